"""Giving a time: what the guard against double booking costs, and the whole action of the front desk."""

from itertools import count
from typing import TYPE_CHECKING, ClassVar

from django.db import connection as default
from django.db import models, transaction

from benchmarks.diary import found, instant
from clinic.diary import actions
from clinic.diary.actions.placing import claim, lock, times
from clinic.diary.models import Booking, Resource
from clinic.diary.openings import Opening
from clinic.patients.models import Patient
from clinic.trail import keys

if TYPE_CHECKING:
    from benchmarks.diary import House

_TIMES = 400
# As many patients as are given a time, with some to spare.
_PATIENTS = 150


class BareClaim(models.Model):
    """The columns and the index of a claim; nothing refuses an overlap."""

    booking = models.ForeignKey(Booking, on_delete=models.DO_NOTHING, related_name="+")
    resource = models.ForeignKey(Resource, on_delete=models.DO_NOTHING, related_name="+")
    need = models.CharField(max_length=16)
    segment = models.CharField(max_length=80)
    start_at = models.DateTimeField()
    end_at = models.DateTimeField()
    active = models.BooleanField(default=True)

    objects: ClassVar["models.Manager[BareClaim]"] = models.Manager()

    class Meta:
        app_label = "clinic_diary"
        db_table = "bare_claim"
        managed = False

    def __str__(self) -> str:
        return self.segment


class Giving:
    """Each call gives the next of the free times, to the next patient."""

    def __init__(self, house: "House") -> None:
        self.house = house
        self.site, self.actor = house.cast.fernbrook, house.cast.desk.actor
        house.use()
        with default.cursor() as cursor:
            cursor.execute("CREATE TABLE bare_claim (LIKE resource_claim INCLUDING ALL)")
            cursor.execute("INSERT INTO bare_claim SELECT * FROM resource_claim")
            cursor.execute(
                "SELECT conname FROM pg_constraint WHERE conrelid = 'bare_claim'::regclass AND contype = 'x'"
            )
            for (name,) in cursor.fetchall():
                cursor.execute(f"ALTER TABLE bare_claim DROP CONSTRAINT {name}")
            cursor.execute("SELECT setval(pg_get_serial_sequence('bare_claim', 'id'), max(id)) FROM bare_claim")
            cursor.execute("VACUUM ANALYZE bare_claim")
        # Registering a patient makes the key of what is written about them, on the disk before it returns; a register
        # that was copied in has none yet, and booking a visit is not what makes it.
        for number in range(1, _PATIENTS):
            keys.held(number)
        self.now = instant(0)
        self.numbers = count(1)
        # One of each day: no two of them overlap, whatever they claim.
        by_day = {one.day: one for one in found(house, instant(2), limit=_TIMES * 20)}
        self.guarded_times, self.bare_times = self._halves(list(by_day.values()))

    def _halves(self, some: list[Opening]) -> tuple[list[Opening], list[Opening]]:
        return some[::2], some[1::2]

    def guarded(self) -> None:
        """Locks, one visit and its claims under the constraint; then gone again, so that it can be given once more."""
        self.house.use()
        number = next(self.numbers)
        opening = self.guarded_times[number % len(self.guarded_times)]
        with transaction.atomic():
            lock(self.site, Patient(pk=number), now=self.now)
            claim(self._visit(number, opening), opening)
            transaction.set_rollback(True)

    def bare(self) -> None:
        self.house.use()
        number = next(self.numbers)
        opening = self.bare_times[number % len(self.bare_times)]
        with transaction.atomic():
            booking = self._visit(number, opening)
            BareClaim.objects.bulk_create(
                BareClaim(
                    booking=booking,
                    resource=opening.chosen[need],
                    need=need,
                    segment=part.segment,
                    start_at=opening.start_at,
                    end_at=opening.end_at,
                )
                for need, parts in opening.parts.items()
                for part in parts
            )
            transaction.set_rollback(True)

    def whole(self) -> None:
        """From the press to the commit: checks, locks, claims, trail, what is due to the patient."""
        self.house.use()
        number = next(self.numbers)
        opening = self.guarded_times.pop()
        patient = Patient.objects.get(pk=number)
        request = actions.BookingRequest(patient, self.house.visit_type, opening.start_at, light_kind="arch")
        actions.book(site=self.site, request=request, actor=self.actor, now=self.now)

    def _visit(self, number: int, opening: Opening) -> Booking:
        return Booking.objects.create(
            site=self.site,
            patient_id=number,
            visit_type=self.house.visit_type,
            status="booked",
            booked_at=self.now,
            booked_by="crowd",
            **times(self.site, opening),
        )
