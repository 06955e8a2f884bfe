"""Whether replies to texts reach a site, as the practice has said it."""

from typing import Any

from django.db import models
from django.utils.translation import gettext_lazy as _

from clinic.accounts.phones import TelephoneField


class ReplyRule(models.TextChoices):
    BY_COUNTRY = "by_country", _("as this program knows the rules of the country")
    NEEDED = "needed", _("yes, they must be able to answer")
    NOT_NEEDED = "not_needed", _("no, we have looked it up")


class TextReplies(models.Model):
    """The newest word of the practice; earlier ones stand in the trail."""

    site = models.OneToOneField("clinic_accounts.Site", on_delete=models.PROTECT, related_name="text_replies")
    rule = models.CharField(max_length=12, choices=ReplyRule, default=ReplyRule.BY_COUNTRY)
    # Replies to a text arrive there and somebody reads them; empty: they do not.
    number: Any = TelephoneField(_("number on which replies reach you"), blank=True)
    said_at = models.DateTimeField()
    said_by = models.CharField(max_length=120)
    version = models.PositiveIntegerField(default=1)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=models.Q(rule__in=ReplyRule.values), name="text_replies_rule_known")
        ]

    def __str__(self) -> str:
        return self.get_rule_display()
