"""What the practice makes of the consent's words: versions of its own, which one is in use, who checked a translation.

Each row stays as it was written: what was signed names its version, and somebody may ask for it years later.
"""

from typing import Final

from django.db import models
from django.utils.translation import gettext_lazy as _

LANGUAGE_LENGTH: Final = 8
LABEL_LENGTH: Final = 24


class OwnWording(models.Model):
    """A version of the practice's own. Written down it is not in use yet: that is a press of its own."""

    language = models.CharField(max_length=LANGUAGE_LENGTH)
    version = models.PositiveIntegerField()
    # The version of the program's words that was there then.
    made_over = models.CharField(max_length=8)
    # The elements, with the names of the plan in braces, as whitening.consent.wording.body makes them.
    body = models.TextField()
    sha256 = models.CharField(max_length=64)
    reason = models.CharField(_("what was changed, and why"), max_length=500)
    written_at = models.DateTimeField()
    written_by = models.ForeignKey("clinic_accounts.User", on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["language", "version"]
        constraints = [
            models.UniqueConstraint(fields=["language", "version"], name="own_wording_version_once"),
            models.UniqueConstraint(fields=["language", "sha256"], name="own_wording_words_once"),
            models.CheckConstraint(condition=models.Q(version__gte=1), name="own_wording_version_from_1"),
            models.CheckConstraint(condition=~models.Q(reason=""), name="own_wording_has_a_reason"),
        ]

    def __str__(self) -> str:
        return f"{self.language}, own version {self.version}"

    @property
    def label(self) -> str:
        """As a consent keeps it: the version of the program's words that it was made over, and its own."""
        return f"{self.made_over}.{self.version}"


class WordingUse(models.Model):
    """Somebody took a version into use, the program's or the practice's. The newest number of a language holds."""

    language = models.CharField(max_length=LANGUAGE_LENGTH)
    number = models.PositiveIntegerField()
    label = models.CharField(max_length=LABEL_LENGTH)
    used_since = models.DateTimeField()
    used_by = models.ForeignKey("clinic_accounts.User", on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["language", "number"]
        constraints = [
            models.UniqueConstraint(fields=["language", "number"], name="wording_use_number_once"),
            models.CheckConstraint(condition=models.Q(number__gte=1), name="wording_use_number_from_1"),
        ]

    def __str__(self) -> str:
        return f"{self.language}: {self.label} in use"


class TranslationCheck(models.Model):
    """Who checked a translation. It counts for the very words that were checked, by their hash."""

    language = models.CharField(max_length=LANGUAGE_LENGTH)
    label = models.CharField(max_length=LABEL_LENGTH)
    sha256 = models.CharField(max_length=64)
    name = models.CharField(_("who checked it"), max_length=120)
    qualification = models.CharField(_("qualification or role"), max_length=200)
    checked_on = models.DateField(_("checked on"))
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey("clinic_accounts.User", on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["language", "recorded_at", "pk"]
        constraints = [
            models.CheckConstraint(condition=~models.Q(name=""), name="translation_check_has_a_name"),
            models.CheckConstraint(condition=~models.Q(qualification=""), name="translation_check_says_who"),
        ]

    def __str__(self) -> str:
        return f"{self.language} {self.label}, checked by {self.name}"
