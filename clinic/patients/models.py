"""The register: who the patients are and how they want to be reached."""

from typing import TYPE_CHECKING, Any, Self

from django.core.validators import MaxLengthValidator
from django.db import models
from django.utils.translation import gettext_lazy as _

from clinic.accounts.languages import is_spoken, name_of
from clinic.accounts.models.places import must_be_a_zone
from clinic.accounts.phones import TelephoneField
from clinic.patients.fields import FoldedField, SearchTextField
from clinic.patients.rules import LanguageGap

if TYPE_CHECKING:
    from clinic.accounts.models import User


# A longer word is no word in which somebody looks for a slip.
LONGEST_WORD = 60


class Channel(models.TextChoices):
    EMAIL = "email", _("e-mail")
    TEXT = "text", _("text message")
    PHONE = "phone", _("telephone call")
    LETTER = "letter", _("letter")


# The ways in which the program itself writes.
WRITTEN = (Channel.EMAIL, Channel.TEXT)


class Purpose(models.TextChoices):
    """What a message is for; opting out of one never silences another. There is no marketing here."""

    APPOINTMENT = "appointment", _("appointments and reminders")
    SAFETY = "safety", _("how you are after treatment")
    RECALL = "recall", _("when the next check is due")
    COLOUR = "colour", _("about the colour of the teeth in about a year")


class PatientQuerySet(models.QuerySet["Patient"]):
    def visible_to(self, user: "User") -> Self:
        return self.filter(site__in=user.memberships.values("site"), merged_into=None)

    def joined_visible_to(self, user: "User") -> Self:
        """Records that stand for another one of the same person: nothing is begun with them any more."""
        return self.filter(site__in=user.memberships.values("site"), merged_into__isnull=False)


class Patient(models.Model):
    site = models.ForeignKey("clinic_accounts.Site", on_delete=models.PROTECT, related_name="patients")
    name = models.CharField(_("full name"), max_length=200)
    preferred_name = models.CharField(_("likes to be called"), max_length=100, blank=True)
    birth_on = models.DateField(_("date of birth"))
    phone: Any = TelephoneField(_("telephone"), blank=True)
    email = models.EmailField(_("e-mail"), blank=True)
    address = models.TextField(_("postal address"), max_length=400, blank=True, validators=[MaxLengthValidator(400)])
    language = models.CharField(_("language"), max_length=8, default="en")
    needs_interpreter = models.BooleanField(_("wants an interpreter"), default=False)
    interpreter_language = models.CharField(_("interpreter for"), max_length=60, blank=True)
    allergies = models.CharField(_("allergies to show"), max_length=300, blank=True)
    own_dentist = models.CharField(_("own dentist, if not here"), max_length=200, blank=True)
    channel = models.CharField(_("reach the patient by"), max_length=8, choices=Channel, default=Channel.EMAIL)
    # Where the day of somebody who lives far away begins and ends; empty: as at the practice.
    timezone = models.CharField(_("time zone"), max_length=64, blank=True, validators=[must_be_a_zone])
    # Folded copies for search as you type, as clinic.patients.rules makes them: the name; its last word first;
    # the digits of the telephone number; and all that is searched by any part of it.
    search_name = FoldedField(max_length=420, editable=False)
    search_turned = FoldedField(max_length=420, editable=False)
    search_digits = FoldedField(max_length=20, blank=True, editable=False)
    search_text = SearchTextField(editable=False)
    # Somebody else answers there: nobody calls or texts it until it is corrected.
    phone_wrong_at = models.DateTimeField(null=True, blank=True)
    email_bounced_at = models.DateTimeField(null=True, blank=True)
    moved_on = models.DateField(null=True, blank=True)
    died_on = models.DateField(null=True, blank=True)
    merged_into = models.ForeignKey("self", on_delete=models.PROTECT, null=True, blank=True, related_name="aliases")
    merged_at = models.DateTimeField(null=True, blank=True)
    registered_at = models.DateTimeField()
    version = models.PositiveIntegerField(default=1)

    objects = PatientQuerySet.as_manager()

    class Meta:
        constraints = [
            models.CheckConstraint(condition=~models.Q(name=""), name="patient_has_a_name"),
            models.CheckConstraint(condition=models.Q(birth_on__gte="1900-01-01"), name="patient_birth_plausible"),
            models.CheckConstraint(condition=~models.Q(merged_into=models.F("pk")), name="patient_not_its_own_alias"),
            models.CheckConstraint(
                condition=models.Q(merged_into=None, merged_at=None)
                | models.Q(merged_into__isnull=False, merged_at__isnull=False),
                name="patient_joined_when",
            ),
        ]
        indexes = [
            models.Index(fields=["site", "birth_on"], name="patient_by_birth"),
            # The site comes second: somebody who works at several asks them all in one go. The trigrams of
            # search_text are indexed by clinic.patients.trigrams.
            *(
                models.Index(fields=[field, "site"], condition=models.Q(merged_into=None), name=f"patient_by_{word}")
                for field, word in (
                    ("search_name", "name"),
                    ("search_turned", "turned"),
                    ("search_digits", "digits"),
                    ("registered_at", "registered"),
                )
            ),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def language_name(self) -> str:
        """As in "German" for "de", in the reader's own language."""
        return name_of(self.language)

    @property
    def language_gap(self) -> LanguageGap | None:
        """What staff are told where nothing goes out in the language that this person wants."""
        if is_spoken(self.language):
            return None
        return LanguageGap(self.name, self.language_name, self.interpreter_language if self.needs_interpreter else "")

    @property
    def called(self) -> str:
        return self.preferred_name or self.name


class NameKey(models.Model):
    """A word of the names here, under one of the keys by which a slip finds it: see clinic.patients.spelling."""

    key = FoldedField(max_length=LONGEST_WORD)
    word = FoldedField(max_length=LONGEST_WORD)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["key", "word"], name="name_key_once")]
        indexes = [models.Index(fields=["word"], name="name_key_by_word")]

    def __str__(self) -> str:
        return self.word


class ContactChoice(models.Model):
    """Proof of one choice about one purpose: who, when, which wording. The newest row per purpose and way holds."""

    patient = models.ForeignKey(Patient, on_delete=models.PROTECT, related_name="contact_choices")
    purpose = models.CharField(max_length=12, choices=Purpose)
    # Empty: whether to write about it at all; else whether to write about it in this way.
    channel = models.CharField(max_length=8, choices=Channel, blank=True)
    # Empty: nothing is said about it any more, as if nothing ever had been.
    allowed = models.BooleanField(null=True)
    wording = models.CharField(max_length=300)
    chosen_at = models.DateTimeField()
    chosen_by = models.CharField(max_length=120)

    class Meta:
        ordering = ["-chosen_at", "-pk"]
        constraints = [
            models.CheckConstraint(condition=models.Q(purpose__in=Purpose.values), name="contact_choice_purpose_known"),
            models.CheckConstraint(condition=models.Q(channel__in=["", *WRITTEN]), name="contact_choice_written_way"),
        ]

    def __str__(self) -> str:
        said = {True: "yes", False: "no", None: "nothing said"}
        return f"{self.get_purpose_display()}: {said[self.allowed]}"
