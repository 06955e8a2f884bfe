"""What a visit can claim: rooms, people and lights. One row each, locked in id order before a claim."""

from typing import TYPE_CHECKING, Self

from django.db import models
from django.utils.translation import gettext_lazy as _

from clinic.accounts.models import Membership

if TYPE_CHECKING:
    from clinic.accounts.models import User


class ResourceKind(models.TextChoices):
    ROOM = "room", _("room")
    PERSON = "person", _("person")
    LIGHT = "light", _("light")


class LightKind(models.TextChoices):
    NONE = "", _("not a light")
    HAND_HELD = "hand_held", _("hand-held light")
    ARCH = "arch", _("arch light")


class ResourceQuerySet(models.QuerySet["Resource"]):
    def visible_to(self, user: "User") -> Self:
        return self.filter(site__memberships__user=user).distinct()

    def bookable(self) -> Self:
        return self.filter(active=True)

    def with_calendar(self) -> Self:
        """Rooms, and people who work at that site: those whose visits another calendar may show."""
        here = Membership.objects.filter(user=models.OuterRef("person"), site=models.OuterRef("site"))
        somebody_here = models.Q(kind=ResourceKind.PERSON, person__is_active=True) & models.Exists(here)
        return self.filter(models.Q(kind=ResourceKind.ROOM) | somebody_here)


class Resource(models.Model):
    site = models.ForeignKey("clinic_accounts.Site", on_delete=models.PROTECT, related_name="resources")
    kind = models.CharField(_("kind"), max_length=8, choices=ResourceKind)
    name = models.CharField(_("name"), max_length=120)
    person = models.ForeignKey(
        "clinic_accounts.User", on_delete=models.PROTECT, null=True, blank=True, related_name="resources"
    )
    light_kind = models.CharField(_("kind of light"), max_length=12, choices=LightKind, blank=True, default="")
    active = models.BooleanField(_("can be booked"), default=True)
    # Said by what a person does not do: a kind of visit that is added later is done by everybody.
    without_visits = models.ManyToManyField(
        "clinic_diary.VisitType", verbose_name=_("visits that this person does not do"), blank=True, related_name="+"
    )
    position = models.PositiveSmallIntegerField(_("order on the page"), default=0)

    objects = ResourceQuerySet.as_manager()

    class Meta:
        ordering = ["kind", "position", "name", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["site", "kind", "name"], name="resource_name_once"),
            models.UniqueConstraint(
                fields=["site", "person"], condition=models.Q(person__isnull=False), name="resource_person_once"
            ),
            models.CheckConstraint(
                condition=models.Q(kind=ResourceKind.PERSON, person__isnull=False)
                | (~models.Q(kind=ResourceKind.PERSON) & models.Q(person__isnull=True)),
                name="resource_person_is_a_person",
            ),
            models.CheckConstraint(
                condition=(models.Q(kind=ResourceKind.LIGHT) & ~models.Q(light_kind=""))
                | (~models.Q(kind=ResourceKind.LIGHT) & models.Q(light_kind="")),
                name="resource_light_has_a_kind",
            ),
        ]

    def __str__(self) -> str:
        return self.name
