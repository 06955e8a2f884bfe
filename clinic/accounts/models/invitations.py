"""Staff enter by a manager's invitation; there is no sign-up."""

from datetime import datetime

from django.db import models
from django.utils.translation import gettext_lazy as _

from clinic.accounts.models.people import Role


class Invitation(models.Model):
    """A single-use link to a new colleague's address; only the hash of its token is kept."""

    site = models.ForeignKey("clinic_accounts.Site", on_delete=models.CASCADE, related_name="invitations")
    email = models.EmailField(_("e-mail"))
    name = models.CharField(_("name"), max_length=120)
    role = models.CharField(_("role"), max_length=12, choices=Role)
    token_hash = models.CharField(max_length=64, unique=True)
    # Nobody: the first manager is invited by whoever installed the program.
    invited_by = models.ForeignKey("clinic_accounts.User", on_delete=models.PROTECT, null=True, related_name="+")
    invited_at = models.DateTimeField()
    expires_at = models.DateTimeField()
    # Empty while no mail server has taken the letter: the People page then offers to send it again.
    mailed_at = models.DateTimeField(null=True)
    accepted_at = models.DateTimeField(null=True)
    revoked_at = models.DateTimeField(null=True)

    class Meta:
        ordering = ["-invited_at", "-pk"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(expires_at__gt=models.F("invited_at")), name="invitation_expires_later"
            ),
            models.CheckConstraint(
                condition=models.Q(accepted_at=None) | models.Q(revoked_at=None), name="invitation_one_end"
            ),
        ]

    def __str__(self) -> str:
        return self.email

    def is_open(self, now: datetime) -> bool:
        return self.accepted_at is None and self.revoked_at is None and now < self.expires_at
