"""The practice and its sites: one installation is one practice with one or more sites."""

from typing import TYPE_CHECKING, Any, Self
from zoneinfo import ZoneInfo, available_timezones

from django.core.exceptions import ValidationError
from django.db import models
from django.utils.translation import gettext_lazy as _

from clinic.accounts.phones import TelephoneField, is_given

if TYPE_CHECKING:
    from clinic.accounts.models.people import User


# How long before a visit the practice asks to be told of a cancellation (common practice, no source).
NOTICE_HOURS = 24


class ShortNotice(models.TextChoices):
    """What a patient's link does once less notice is left than the practice asks for."""

    ACCEPT = "accept", _("it still cancels the visit, which is then marked late")
    CALL = "call", _("it asks the patient to telephone")


def must_be_a_zone(name: str) -> None:
    if name not in available_timezones():
        raise ValidationError(
            _("“%(name)s” is not a time zone. Pick one such as Europe/London."), params={"name": name}
        )


class Practice(models.Model):
    """The one practice of this installation (the only row has the primary key 1)."""

    name = models.CharField(_("practice name"), max_length=120)
    website = models.URLField(_("website"), blank=True)

    class Meta:
        constraints = [models.CheckConstraint(condition=models.Q(pk=1), name="practice_is_one")]

    def __str__(self) -> str:
        return self.name


class SiteQuerySet(models.QuerySet["Site"]):
    def visible_to(self, user: "User") -> Self:
        return self.filter(memberships__user=user).distinct()


class Site(models.Model):
    """One place where patients are seen, with its own clock, law and telephone numbers."""

    practice = models.ForeignKey(Practice, on_delete=models.PROTECT, related_name="sites")
    name = models.CharField(_("name"), max_length=120)
    slug = models.SlugField(_("short name for addresses"), unique=True)
    address = models.TextField(_("postal address"), max_length=400, blank=True)
    phone: Any = TelephoneField(_("telephone"), blank=True)
    email = models.EmailField(_("e-mail"), blank=True)
    timezone = models.CharField(_("time zone"), max_length=64, default="UTC", validators=[must_be_a_zone])
    country = models.CharField(_("country (two letters)"), max_length=2)
    region = models.CharField(_("region"), max_length=16, blank=True)
    currency = models.CharField(_("currency (three letters)"), max_length=3, default="EUR")
    # No default on purpose: until somebody has chosen whose rules hold here, nothing can be planned.
    jurisdiction = models.CharField(_("whose rules hold here"), max_length=16, blank=True)
    emergency_number = models.CharField(_("emergency number"), max_length=40, blank=True)
    poison_number = models.CharField(_("poison advice number"), max_length=40, blank=True)
    out_of_hours_number = models.CharField(_("number outside opening hours"), max_length=40, blank=True)
    notice_hours = models.PositiveSmallIntegerField(
        _("notice asked for before a cancellation, in hours"), default=NOTICE_HOURS
    )
    # Whoever cannot come is better known of late than not at all, so accepting is what a practice starts with.
    short_notice = models.CharField(
        _("with less notice, a patient's link"), max_length=8, choices=ShortNotice, default=ShortNotice.ACCEPT
    )
    on_call = models.ForeignKey(
        "clinic_accounts.User",
        verbose_name=_("person on call"),
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
    )
    version = models.PositiveIntegerField(default=1)

    objects = SiteQuerySet.as_manager()

    class Meta:
        ordering = ["name", "pk"]
        constraints = [
            models.CheckConstraint(condition=models.Q(country__regex=r"^[A-Z]{2}$"), name="site_country_two_letters"),
            models.CheckConstraint(
                condition=models.Q(currency__regex=r"^[A-Z]{3}$"), name="site_currency_three_letters"
            ),
            models.CheckConstraint(
                condition=models.Q(short_notice__in=ShortNotice.values), name="site_short_notice_known"
            ),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def zone(self) -> ZoneInfo:
        return ZoneInfo(self.timezone)

    @property
    def can_send_links(self) -> bool:
        """No link goes to a patient before the four numbers stand that every worrying answer names."""
        return bool(is_given(self.phone) and self.emergency_number and self.poison_number and self.out_of_hours_number)
