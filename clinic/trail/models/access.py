"""Who looked at what: a second log, without a chain, sealed in blocks. It holds ids and no values."""

from typing import Self

from django.db import models
from django.utils.translation import gettext_lazy as _

from clinic.trail.actor import ACTOR_KINDS


class AccessEntryQuerySet(models.QuerySet["AccessEntry"]):
    def of_patient(self, patient_id: int) -> Self:
        return self.filter(patient_id=patient_id)


class AccessEntry(models.Model):
    # Given when the line is spooled: the same line can never be imported twice.
    line = models.UUIDField(_("line"), editable=False)
    at = models.DateTimeField(_("real time"))
    clock_shift_seconds = models.BigIntegerField(_("demo clock, seconds ahead"), default=0)
    what = models.CharField(_("what was read"), max_length=80)
    actor_kind = models.CharField(_("kind of actor"), max_length=8)
    actor_id = models.CharField(_("actor"), max_length=64)
    subject_kind = models.CharField(_("kind of subject"), max_length=40)
    subject_id = models.CharField(_("subject"), max_length=64)
    patient_id = models.BigIntegerField(_("patient"), null=True, blank=True)
    site_id = models.BigIntegerField(_("site"), null=True, blank=True)

    objects = AccessEntryQuerySet.as_manager()

    class Meta:
        db_table = "access_entry"
        ordering = ("pk",)
        verbose_name = _("access")
        verbose_name_plural = _("accesses")
        indexes = (
            models.Index(fields=["patient_id", "id"], name="access_entry_by_patient"),
            models.Index(fields=["actor_id", "id"], name="access_entry_by_actor"),
        )
        constraints = (
            models.UniqueConstraint(fields=["line"], name="access_entry_line_once"),
            models.CheckConstraint(condition=models.Q(actor_kind__in=ACTOR_KINDS), name="access_entry_actor_kind"),
        )

    def __str__(self) -> str:
        return f"{self.pk} {self.what} {self.subject_kind} {self.subject_id}"


class AccessSeal(models.Model):
    """The digest of one block of accesses, made each hour over all that came since the last."""

    first_id = models.BigIntegerField(_("first access"))
    last_id = models.BigIntegerField(_("last access"))
    row_count = models.PositiveIntegerField(_("accesses"))
    block_hash = models.CharField(_("hash"), max_length=64)
    sealed_at = models.DateTimeField(_("sealed at"))

    class Meta:
        ordering = ("pk",)
        verbose_name = _("access seal")
        verbose_name_plural = _("access seals")
        constraints = (
            models.UniqueConstraint(fields=["first_id"], name="access_seal_first_once"),
            models.UniqueConstraint(fields=["last_id"], name="access_seal_last_once"),
            models.CheckConstraint(condition=models.Q(last_id__gte=models.F("first_id")), name="access_seal_in_order"),
        )

    def __str__(self) -> str:
        return f"{self.first_id}–{self.last_id}"


class AccessSpool(models.Model):
    """How far each spool file has been imported; written in the transaction of the rows themselves."""

    file_name = models.CharField(_("file"), max_length=80, primary_key=True)
    # The first line's id: a file of the same name on another machine is another file.
    first_line = models.UUIDField(_("first line"))
    imported_bytes = models.BigIntegerField(_("bytes imported"), default=0)

    class Meta:
        verbose_name = _("access spool")
        verbose_name_plural = _("access spools")
        constraints = (models.CheckConstraint(condition=models.Q(imported_bytes__gte=0), name="access_spool_offset"),)

    def __str__(self) -> str:
        return f"{self.file_name}: {self.imported_bytes}"
