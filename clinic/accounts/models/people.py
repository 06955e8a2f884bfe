"""Staff: who they are, at which sites in which roles, and what each person in particular may do."""

from datetime import date
from typing import TYPE_CHECKING, Any, ClassVar, Self

from django.contrib.auth.base_user import AbstractBaseUser, BaseUserManager
from django.db import models
from django.db.models.functions import Lower
from django.utils.crypto import salted_hmac
from django.utils.functional import cached_property
from django.utils.translation import gettext_lazy as _

from clinic.accounts.phones import TelephoneField
from clinic.trail.actor import Actor

if TYPE_CHECKING:
    from clinic.accounts.models.places import Site


class Role(models.TextChoices):
    DESK = "desk", _("front desk")
    ASSISTANT = "assistant", _("assistant")
    CLINICIAN = "clinician", _("clinician")
    MANAGER = "manager", _("manager")


class Profession(models.TextChoices):
    """The word on the person's registration; local rules name professions, not our roles."""

    DENTIST = "dentist", _("dentist")
    HYGIENIST = "hygienist", _("dental hygienist")
    THERAPIST = "therapist", _("dental therapist")
    CLINICAL_TECHNICIAN = "clinical_technician", _("clinical dental technician")
    NURSE = "nurse", _("dental nurse")
    OTHER = "other", _("not registered")


class UserManager(BaseUserManager["User"]):
    def create_user(self, email: str, password: str | None = None, **fields: Any) -> "User":
        user = self.model(email=self.normalize_email(email).lower(), **fields)
        user.set_password(password)
        user.save(using=self._db)
        return user

    def get_by_natural_key(self, username: str | None) -> "User":
        return self.get(email__iexact=username)

    def of_site(self, site: "Site") -> models.QuerySet["User"]:
        return self.filter(memberships__site=site, is_active=True).distinct()


class User(AbstractBaseUser):
    # Kept in lower case by the manager below, so that one address is one person.
    email = models.EmailField(_("e-mail"), unique=True)
    name = models.CharField(_("name"), max_length=120)
    initials = models.CharField(_("initials"), max_length=4)
    profession = models.CharField(_("profession"), max_length=24, choices=Profession, default=Profession.OTHER)
    registration_number = models.CharField(_("registration number"), max_length=40, blank=True)
    registration_expires_on = models.DateField(_("registration valid until"), null=True, blank=True)
    indemnity_expires_on = models.DateField(_("indemnity valid until"), null=True, blank=True)
    may_examine_and_decide = models.BooleanField(_("may examine and decide"), default=False)
    may_prescribe = models.BooleanField(_("may prescribe"), default=False)
    may_carry_out = models.BooleanField(_("may carry out whitening"), default=False)
    may_see_clinical_answers = models.BooleanField(_("may see clinical answers"), default=False)
    # For a text while on call; shown to managers alone.
    phone: Any = TelephoneField(_("telephone for texts while on call"), blank=True)
    language = models.CharField(_("language"), max_length=8, default="en")
    # A short code that opens the screen lock again; kept like a password, counted like one.
    pin_hash = models.CharField(max_length=200, blank=True)
    pin_failures = models.PositiveSmallIntegerField(default=0)
    # Part of the session's fingerprint: counting it up ends every session of this person at once.
    sessions_ended = models.PositiveIntegerField(default=0, editable=False)
    is_active = models.BooleanField(_("works here"), default=True)

    objects: ClassVar[UserManager] = UserManager()

    USERNAME_FIELD = "email"
    EMAIL_FIELD = "email"
    REQUIRED_FIELDS: ClassVar[list[str]] = ["name"]

    class Meta:
        ordering = ["name", "pk"]
        constraints = [
            models.UniqueConstraint(Lower("email"), name="user_email_once"),
            models.CheckConstraint(condition=~models.Q(name=""), name="user_has_a_name"),
        ]

    def __str__(self) -> str:
        return self.name

    @cached_property
    def roles_by_site(self) -> dict[int, frozenset[Role]]:
        held: dict[int, set[Role]] = {}
        for site_id, role in self.memberships.values_list("site_id", "role"):
            held.setdefault(site_id, set()).add(Role(role))
        return {site_id: frozenset(roles) for site_id, roles in held.items()}

    def roles_at(self, site: "Site | None") -> frozenset[Role]:
        """The roles at that site, or at all sites together. Read once per object: one request, one query."""
        if site is None:
            return frozenset[Role]().union(*self.roles_by_site.values())
        return self.roles_by_site.get(site.pk, frozenset())

    def refresh_from_db(self, *args: Any, **kwargs: Any) -> None:
        vars(self).pop("roles_by_site", None)
        super().refresh_from_db(*args, **kwargs)

    @property
    def actor(self) -> Actor:
        return Actor(kind="staff", id=str(self.pk), name=self.name)

    def _get_session_auth_hash(self, secret: str | None = None) -> str:
        salt = "clinic.accounts.models.User.session"
        return salted_hmac(
            salt, f"{self.password}:{self.sessions_ended}", secret=secret, algorithm="sha256"
        ).hexdigest()

    def in_date(self, today: date) -> bool:
        """Registration and indemnity cover that day; a date that was never entered is not held against anyone."""
        return all(day is None or day >= today for day in (self.registration_expires_on, self.indemnity_expires_on))


class MembershipQuerySet(models.QuerySet["Membership"]):
    def visible_to(self, user: User) -> Self:
        return self.filter(site__memberships__user=user).distinct()


class Membership(models.Model):
    """One role of one person at one site; a person may hold several."""

    user = models.ForeignKey(User, on_delete=models.CASCADE, related_name="memberships")
    site = models.ForeignKey("clinic_accounts.Site", on_delete=models.CASCADE, related_name="memberships")
    role = models.CharField(_("role"), max_length=12, choices=Role)

    objects = MembershipQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["user", "site", "role"], name="membership_once"),
            models.CheckConstraint(condition=models.Q(role__in=Role.values), name="membership_role_known"),
        ]

    def __str__(self) -> str:
        return f"{self.user} · {self.get_role_display()} · {self.site}"
