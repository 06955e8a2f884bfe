"""The record of what was done, and the seals that chain it. Both only ever grow (guards.py)."""

from collections.abc import Iterable
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Self

from django.db import models
from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from clinic.trail import verbs
from clinic.trail.actor import ACTOR_KINDS

if TYPE_CHECKING:
    from collections.abc import Sequence


class TrailEntryQuerySet(models.QuerySet["TrailEntry"]):
    def of_sites(self, site_ids: Iterable[int]) -> Self:
        """What staff of these sites may see; entries of the whole practice have no site."""
        return self.filter(site_id__in=list(site_ids))

    def of_patients(self, patient_ids: Iterable[int]) -> Self:
        """Of one person, whose records may have been joined."""
        return self.filter(patient_id__in=list(patient_ids))

    def about(self, kind: str, pk: int | str) -> Self:
        return self.filter(subject_kind=kind, subject_id=str(pk))

    def unsealed(self) -> Self:
        return self.filter(seal__isnull=True)


class TrailEntry(models.Model):
    """One thing that somebody did. Personal values lie in `sealed_values` and nowhere else."""

    nonce = models.UUIDField(_("nonce"), editable=False)
    at = models.DateTimeField(_("real time"))
    clock_shift_seconds = models.BigIntegerField(_("demo clock, seconds ahead"), default=0)
    verb = models.CharField(_("verb"), max_length=80)
    actor_kind = models.CharField(_("kind of actor"), max_length=8)
    actor_id = models.CharField(_("actor"), max_length=64)
    # Empty for a patient: their name is a personal value and lies in the sealed values.
    actor_name = models.CharField(_("actor's name"), max_length=200, blank=True)
    subject_kind = models.CharField(_("kind of subject"), max_length=40)
    subject_id = models.CharField(_("subject"), max_length=64)
    patient_id = models.BigIntegerField(_("patient"), null=True, blank=True)
    site_id = models.BigIntegerField(_("site"), null=True, blank=True)
    fields = models.TextField(_("field names"), blank=True)
    digest = models.CharField(_("digest of the values"), max_length=64)
    digest_key = models.CharField(_("key of the digests"), max_length=16)
    values_key = models.CharField(_("key of the values"), max_length=16)
    sealed_values = models.TextField(_("encrypted values"))
    mac = models.CharField(_("digest of the entry"), max_length=64)

    objects = TrailEntryQuerySet.as_manager()

    class Meta:
        db_table = "trail_entry"
        ordering = ("pk",)
        verbose_name = _("trail entry")
        verbose_name_plural = _("trail entries")
        indexes = (
            models.Index(fields=["patient_id", "id"], name="trail_entry_by_patient"),
            models.Index(fields=["subject_kind", "subject_id", "id"], name="trail_entry_by_subject"),
            models.Index(fields=["site_id", "id"], name="trail_entry_by_site"),
        )
        constraints = (
            models.UniqueConstraint(fields=["nonce"], name="trail_entry_nonce_once"),
            models.CheckConstraint(condition=models.Q(actor_kind__in=ACTOR_KINDS), name="trail_entry_actor_kind"),
            models.CheckConstraint(condition=~models.Q(verb=""), name="trail_entry_verb_given"),
            models.CheckConstraint(
                condition=~models.Q(actor_kind="patient") | models.Q(actor_name=""),
                name="trail_entry_no_patient_name",
            ),
        )

    def __str__(self) -> str:
        return f"{self.pk} {self.verb} {self.subject_kind} {self.subject_id}"

    @property
    def field_names(self) -> "Sequence[str]":
        return self.fields.split()

    @property
    def happened_at(self) -> datetime:
        """On the clock of the practice. A demo's shift is kept in whole seconds, so more would not be true."""
        at = self.at + timedelta(seconds=self.clock_shift_seconds)
        return (at + timedelta(milliseconds=500)).replace(microsecond=0) if self.clock_shift_seconds else at

    @property
    def sentence(self) -> str | Promise:
        return verbs.sentence(self.verb)


class TrailSeal(models.Model):
    """One link of the chain: its hash covers the link before it and the whole entry."""

    position = models.BigIntegerField(_("position"), primary_key=True)
    entry = models.OneToOneField(TrailEntry, models.PROTECT, related_name="seal", verbose_name=_("entry"))
    row_hash = models.CharField(_("hash"), max_length=64)
    sealed_at = models.DateTimeField(_("sealed at"))

    class Meta:
        db_table = "trail_seal"
        ordering = ("position",)
        verbose_name = _("trail seal")
        verbose_name_plural = _("trail seals")
        constraints = (models.CheckConstraint(condition=models.Q(position__gte=1), name="trail_seal_position_from_1"),)

    def __str__(self) -> str:
        return f"{self.position} {self.row_hash[:12]}"
