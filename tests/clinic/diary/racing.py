"""Run as a program of its own, so that a race is one between processes.

`prepare PATIENTS`, `race SEED ATTEMPTS DAYS AT`, `duel PATIENT AT`, `look`, `remake`, `guard`.
"""

import clinic.config.zones  # noqa: F401  (first: before anything imports zoneinfo)

# isort: split
import json
import sys
import time
from dataclasses import replace
from datetime import date, datetime, timedelta
from random import Random
from typing import Any

import django

django.setup()

from django.db import IntegrityError, connection, models  # noqa: E402  (models exist only now)

from clinic.diary import actions, openings  # noqa: E402
from clinic.diary.models import COMING, Booking, ResourceClaim, Status, TimeInvitation, VisitCode, VisitType  # noqa: E402
from clinic.diary.refusals import BookedAlready, CallUs, InvitationOver  # noqa: E402
from clinic.patients.models import Patient  # noqa: E402
from clinic.trail.actor import SYSTEM, Actor  # noqa: E402
from clinic.trail.models import TrailEntry  # noqa: E402
from tests.cast import NOW, open_practice  # noqa: E402
from tests.clinic.diary.house import another_patient, at, furnish  # noqa: E402

DAY = date(2026, 3, 4)


def prepare(patients: int) -> None:
    cast = open_practice()
    furnish(cast)
    VisitType.objects.update(patient_may_book=True)
    asked = VisitType.objects.get(site=cast.fernbrook, code=VisitCode.PROBLEM)
    for number in range(patients):
        patient = another_patient(cast, number)
        # Every other one has a link to pick a time by.
        if number % 2:
            actions.invite(patient=patient, visit_type=asked, user=cast.desk, actor=SYSTEM, now=NOW)


def request(patient: Patient, start_at: datetime, code: str = VisitCode.CONSULTATION) -> actions.BookingRequest:
    visit = VisitType.objects.get(site=patient.site, code=code)
    cycles = 4 if code == VisitCode.TREATMENT else 0
    return actions.BookingRequest(patient, visit, start_at, cycles)


def place(random: Random, patients: list[Patient], start_at: datetime, now: datetime) -> None:
    """Books the time, or holds it as for a telephone call; who has a link picks it alone."""
    code = random.choice([VisitCode.CONSULTATION, VisitCode.PROBLEM, VisitCode.TREATMENT])
    patient = random.choice(patients)
    invitation = TimeInvitation.objects.filter(patient=patient).open(now=now).first()
    if invitation is not None:
        actor = Actor(kind="patient", id=str(patient.pk), name=patient.name)
        actions.pick(invitation=invitation, start_at=start_at, actor=actor, now=now)
        return
    wish = request(patient, start_at, code)
    if random.random() < 0.3:
        # Pencilled until the moment at which holds run out.
        wish = replace(wish, lapses_at=NOW + actions.HOLD_FOR)
    give = actions.hold if random.random() < 0.3 else actions.book
    give(site=patients[0].site, request=wish, actor=SYSTEM, now=now)


def change(random: Random, held: Booking, start_at: datetime, now: datetime) -> None:
    if random.random() < 0.3:
        by_link(random, held, start_at, now)
    elif held.status == Status.PENDING:
        act = actions.book_held if random.random() < 0.5 else actions.let_go
        act(booking=held, actor=SYSTEM, now=now)
    elif held.status == Status.PROPOSED and random.random() < 0.5:
        actions.confirm(booking=held, actor=SYSTEM, now=now)
    elif random.random() < 0.5:
        actions.move(booking=held, start_at=start_at, actor=SYSTEM, now=now)
    else:
        actions.cancel(booking=held, by="practice", reason="", actor=SYSTEM, now=now)


def by_link(random: Random, held: Booking, start_at: datetime, now: datetime) -> None:
    """The patient on their phone, while the desks go on."""
    actor = Actor(kind="patient", id=str(held.patient_id), name=held.patient.name)
    act = random.choice(["keep", "move", "move", "cancel"])
    if act == "keep":
        actions.keep_visit(booking=held, actor=actor, now=now)
    elif act == "move":
        actions.move_visit(booking=held, start_at=start_at, actor=actor, now=now)
    else:
        actions.cancel_visit(booking=held, why="", actor=actor, now=now)


def one_attempt(random: Random, patients: list[Patient], days: int) -> str:
    """Books, holds, moves, cancels or lets holds end, at one of a few times that everybody wants.

    For half of the attempts every hold has run out, so that whoever books there frees it first.
    """
    now = NOW + random.choice([timedelta(), actions.HOLD_FOR])
    if random.random() < 0.05:
        actions.end_holds_due(now=now)
        actions.lapse_due(now=now)
    start_at = at(9, day=DAY + timedelta(days=random.randrange(days))) + timedelta(minutes=15 * random.randrange(28))
    mine = Booking.objects.select_related("site", "patient", "visit_type").filter(status__in=COMING)
    held = mine.order_by("pk")[random.randrange(20) :].first() if random.random() < 0.3 else None
    try:
        if held is None:
            place(random, patients, start_at, now)
        else:
            change(random, held, start_at, now)
    except (
        actions.HoldEnded,
        actions.SlotTaken,
        actions.OutsideOpeningHours,
        actions.PatientBusy,
        actions.NotPossibleNow,
        actions.PencilEnded,
        BookedAlready,
        CallUs,
        InvitationOver,
    ) as refusal:
        return refusal.code
    return "done"


def race(seed: int, attempts: int, days: int, starts_at: float) -> dict[str, Any]:
    random = Random(seed)  # noqa: S311  (which times are wanted, not a secret)
    patients = list(Patient.objects.select_related("site").order_by("pk"))
    time.sleep(max(0.0, starts_at - time.time()))
    outcomes: dict[str, int] = {}
    took: list[float] = []
    for _ in range(attempts):
        began = time.monotonic()
        outcome = one_attempt(random, patients, days)
        took.append(time.monotonic() - began)
        outcomes[outcome] = outcomes.get(outcome, 0) + 1
    return {"outcomes": outcomes, "took": took}


def duel(patient: int, starts_at: float) -> dict[str, Any]:
    """Two desks press for one slot at one moment; what each of them is told."""
    who = Patient.objects.select_related("site").order_by("pk")[patient]
    wish = request(who, at(9))
    time.sleep(max(0.0, starts_at - time.time()))
    try:
        actions.book(site=who.site, request=wish, actor=SYSTEM, now=NOW)
    except actions.SlotTaken as refusal:
        found = openings.find(site=who.site, wanted=wish.wanted(), earliest_at=at(9), latest_at=at(17), limit=3).found
        return {"said": str(refusal), "next": [f"{one.start_at:%H:%M}" for one in found]}
    return {"said": "booked", "next": []}


def _confirmed() -> models.QuerySet[TrailEntry, str]:
    return TrailEntry.objects.filter(verb="diary.confirmed").values_list("subject_id", flat=True)


def look() -> dict[str, Any]:
    claims = ResourceClaim.objects.filter(active=True)
    pairs = claims.filter(
        resource__claims__active=True,
        resource__claims__start_at__lt=models.F("end_at"),
        resource__claims__end_at__gt=models.F("start_at"),
        resource__claims__pk__gt=models.F("pk"),
    )
    return {
        "overlaps": pairs.count(),
        "bookings": Booking.objects.filter(status__in=COMING).count(),
        "claimed": claims.values("booking").distinct().count(),
        # Of a pencilled time either its date came or somebody confirmed it, never both.
        "both": TrailEntry.objects.filter(verb="diary.lapsed", subject_id__in=_confirmed()).count(),
        "idle": claims.exclude(booking__status__in=COMING).count(),
    }


def remake() -> None:
    """As a later migration would: a changed column makes SQLite build the table anew, without its triggers."""
    old = ResourceClaim._meta.get_field("segment")
    new = models.CharField(max_length=90)
    new.set_attributes_from_name("segment")
    new.model = ResourceClaim
    with connection.schema_editor() as editor:
        editor.alter_field(ResourceClaim, old, new)


def guard() -> str:
    """Whether a second claim over the first one is refused."""
    claim = ResourceClaim.objects.select_related("booking", "resource").first()
    assert claim is not None
    claim.pk = None
    try:
        claim.save(force_insert=True)
    except IntegrityError:
        return "refused"
    claim.delete()
    return "taken"


def main(command: str, *words: str) -> None:
    answer: object = None
    if command == "prepare":
        prepare(int(words[0]))
    elif command == "race":
        answer = race(int(words[0]), int(words[1]), int(words[2]), float(words[3]))
    elif command == "duel":
        answer = duel(int(words[0]), float(words[1]))
    elif command == "remake":
        remake()
    else:
        answer = {"look": look, "guard": guard}[command]()
    json.dump(answer, sys.stdout)


if __name__ == "__main__":
    main(*sys.argv[1:])
