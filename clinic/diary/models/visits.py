"""Visit types: what happens in order, how long it takes, and what each stretch claims."""

from typing import TYPE_CHECKING, Self

from django.db import models
from django.utils.translation import gettext_lazy as _

if TYPE_CHECKING:
    from clinic.accounts.models import User


class VisitCode(models.TextChoices):
    """Visit types the program knows by name; a practice may add its own beside them."""

    CONSULTATION = "consultation", _("consultation")
    TREATMENT = "treatment", _("treatment session")
    REVIEW = "review", _("review")
    PROBLEM = "problem", _("problem visit")
    HYGIENE = "hygiene", _("scale and polish")
    IMPRESSIONS = "impressions", _("impressions or scan")
    FITTING = "fitting", _("tray fitting")
    OTHER = "other", _("other visit")


class Need(models.TextChoices):
    ROOM = "room", _("room")
    CLINICIAN = "clinician", _("clinician")
    EXAMINER = "examiner", _("clinician who may examine and decide")
    ASSISTANT = "assistant", _("assistant")
    LIGHT_HAND_HELD = "light_hand_held", _("hand-held light")
    LIGHT_ARCH = "light_arch", _("arch light")
    LIGHT_ANY = "light_any", _("light")


class VisitTypeQuerySet(models.QuerySet["VisitType"]):
    def visible_to(self, user: "User") -> Self:
        return self.filter(site__memberships__user=user).distinct()

    def bookable(self) -> Self:
        """Those whose length is set up: a visit without a segment takes no time and no room."""
        return self.filter(active=True, segments__isnull=False).distinct()

    def with_cycles(self) -> Self:
        """Those that planned cycles, or a light, make longer or that hold something else with them."""
        counted = models.Q(segments__per_cycle=True) | models.Q(segments__needs__only_with_light=True)
        return self.filter(models.Q(code=VisitCode.TREATMENT) | counted).distinct()


class VisitType(models.Model):
    site = models.ForeignKey("clinic_accounts.Site", on_delete=models.PROTECT, related_name="visit_types")
    code = models.CharField(_("kind of visit"), max_length=16, choices=VisitCode)
    name = models.CharField(_("name"), max_length=80)
    # On patients' pages, in their mails and calendars; empty: only "your visit".
    patient_name = models.CharField(_("what patients read"), max_length=80, blank=True, default="")
    patient_may_book = models.BooleanField(_("a patient may pick a time alone"), default=False)
    # Both defaults are common practice, no source.
    patient_days_ahead = models.PositiveSmallIntegerField(_("at most so many days ahead"), default=60)
    patient_notice_hours = models.PositiveSmallIntegerField(_("at least so many hours before"), default=24)
    patient_may_move = models.BooleanField(_("a patient may move it alone"), default=True)
    active = models.BooleanField(_("can be booked"), default=True)
    version = models.PositiveIntegerField(default=1)

    objects = VisitTypeQuerySet.as_manager()

    class Meta:
        ordering = ["name", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["site", "name"], name="visit_type_name_once"),
            models.CheckConstraint(condition=models.Q(code__in=VisitCode.values), name="visit_type_code_known"),
            models.CheckConstraint(
                condition=models.Q(patient_days_ahead__gte=1) & models.Q(patient_days_ahead__lte=730),
                name="visit_type_days_ahead_1_to_730",
            ),
            models.CheckConstraint(
                condition=models.Q(patient_notice_hours__lte=24 * 14), name="visit_type_notice_at_most_14_days"
            ),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def has_cycles(self) -> bool:
        """See `with_cycles`. A query, unless a session."""
        return self.code == VisitCode.TREATMENT or VisitType.objects.with_cycles().filter(pk=self.pk).exists()


class Segment(models.Model):
    """One stretch of a visit. Its length is fixed, or counted once per cycle of the plan."""

    visit_type = models.ForeignKey(VisitType, on_delete=models.CASCADE, related_name="segments")
    position = models.PositiveSmallIntegerField()
    name = models.CharField(_("name"), max_length=80)
    minutes = models.PositiveSmallIntegerField(_("minutes"))
    per_cycle = models.BooleanField(_("once per cycle"), default=False)
    basis = models.CharField(_("where this length comes from"), max_length=120, blank=True)
    # Which stretch of a finished visit tells how long it really takes (clinic.diary.usual); empty: none does.
    measured_as = models.CharField(_("learned from"), max_length=16, blank=True, default="")

    class Meta:
        ordering = ["visit_type", "position"]
        constraints = [
            models.UniqueConstraint(fields=["visit_type", "position"], name="segment_position_once"),
            models.CheckConstraint(
                condition=models.Q(minutes__gte=1) & models.Q(minutes__lte=480), name="segment_minutes_1_to_480"
            ),
        ]

    def __str__(self) -> str:
        return self.name


class SegmentNeed(models.Model):
    segment = models.ForeignKey(Segment, on_delete=models.CASCADE, related_name="needs")
    need = models.CharField(_("claims"), max_length=16, choices=Need)
    # A light is claimed only when the plan uses one of that kind.
    only_with_light = models.BooleanField(default=False)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["segment", "need"], name="segment_need_once"),
            models.CheckConstraint(condition=models.Q(need__in=Need.values), name="segment_need_known"),
        ]

    def __str__(self) -> str:
        return self.get_need_display()
