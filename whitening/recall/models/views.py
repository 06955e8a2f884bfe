"""How somebody likes to look at Follow-ups, kept under a name. A convenience: the trail need not know."""

from typing import TYPE_CHECKING, Self

from django.db import models
from django.utils.translation import gettext_lazy as _

if TYPE_CHECKING:
    from clinic.accounts.models import User


class SavedViewQuerySet(models.QuerySet["SavedView"]):
    def visible_to(self, user: "User") -> Self:
        return self.filter(user=user)


class SavedView(models.Model):
    """Without the name that was searched for: who a patient is stands in the register alone."""

    user = models.ForeignKey("clinic_accounts.User", on_delete=models.CASCADE, related_name="saved_views")
    name = models.CharField(_("name of the view"), max_length=40)
    # As the list's own address takes them; each may be empty.
    kind = models.CharField(max_length=16, blank=True)
    owner = models.CharField(max_length=16, blank=True)
    section = models.CharField(max_length=16, blank=True)

    objects = SavedViewQuerySet.as_manager()

    class Meta:
        ordering = ["name", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["user", "name"], name="saved_view_name_once"),
            models.CheckConstraint(condition=~models.Q(name=""), name="saved_view_has_a_name"),
        ]

    def __str__(self) -> str:
        return self.name
