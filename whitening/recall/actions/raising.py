"""A worrying answer that nobody has taken by its time is raised again, step by step, until somebody takes it."""

from datetime import datetime

from django.db import transaction
from django.db.models import BooleanField, ExpressionWrapper, Q

from clinic.accounts.models import Site, User
from clinic.accounts.rights import Capability, may
from clinic.accounts.rota import on_call_at
from clinic.messages import actions as messages
from clinic.trail.actor import SYSTEM
from clinic.trail.record import record
from whitening.recall import raising, timing
from whitening.recall.actions.replying import BY_MAIL, BY_TEXT, gets_texts
from whitening.recall.models import Escalation, Raising
from whitening.recall.reading_hours import is_open
from whitening.recall.triage import Urgency

RAISED_AGAIN = "raised_again"


def raise_again(*, now: datetime) -> int:
    """Returns how many were raised. Steps that nobody was there to take (the clock stood still) are not made up for.

    One that nobody has been told of, because there was nobody to own it, does not wait for its time.
    """
    untold = Q(owner=None, times_raised=0)
    waiting = Escalation.objects.untaken().filter(Q(due_at__lte=now) | untold, times_raised__lt=raising.MOST)
    alive = waiting.filter(case__patient__died_on=None)
    asked = alive.annotate(at_once=ExpressionWrapper(untold, BooleanField()))
    rows = list(asked.values_list("pk", "urgency", "due_at", "handed_on_at", "times_raised", "at_once"))
    raised = 0
    for pk, urgency, due_at, handed_on_at, done, at_once in rows:
        begins_at = raising.begins_at(Urgency(urgency), due_at=due_at, handed_on_at=handed_on_at)
        step = raising.step_reached(Urgency(urgency), due_at=begins_at, now=now)
        step = max(step, 1) if at_once else step
        raised += step > done and _raise(pk, step, now)
    return raised


def _raise(pk: int, step: int, now: datetime) -> bool:
    """Two ticks at once: the second waits at the row and finds the step done."""
    with transaction.atomic():
        rows = Escalation.objects.untaken().select_for_update(of=("self",)).filter(pk=pk, times_raised__lt=step)
        held = rows.select_related("case__site__on_call", "case__patient", "owner").first()
        if held is None or (raising.waits_for_opening(Urgency(held.urgency)) and not is_open(held.case.site, now=now)):
            return False
        told = _whom(held, step, now)
        for person in told:
            _tell(held, step, person, now)
        held.times_raised, held.raised_again_at = step, held.raised_again_at or now
        held.save(update_fields=["times_raised", "raised_again_at"])
        record(
            verb="recall.raised_again",
            actor=SYSTEM,
            subject=("escalation", held.pk),
            patient_id=held.case.patient_id,
            site_id=held.case.site_id,
            values={"step": step, "told": [person.pk for person in told]},
        )
    return True


def _tell(escalation: Escalation, step: int, person: User, now: datetime) -> None:
    raised = Raising.objects.create(escalation=escalation, step=step, person=person, raised_at=now)
    for way in [BY_MAIL, BY_TEXT] if gets_texts(person) else [BY_MAIL]:
        messages.plan(
            kind=RAISED_AGAIN,
            subject=("raising", raised.pk),
            step=way,
            patient=escalation.case.patient,
            site=escalation.case.site,
            due_at=now,
            not_after=now + timing.DAY,
            now=now,
        )


def _whom(escalation: Escalation, step: int, now: datetime) -> list[User]:
    """Whom it was handed on to, else the person on call; later, or where there is nobody, everybody who may decide."""
    site = escalation.case.site
    new_owner = escalation.owner if escalation.handed_on_at is not None else None
    asked = (new_owner, on_call_at(site, now) or escalation.owner)
    able = [person for person in asked if person is not None and may(person, Capability.REPLIES_READ, site)]
    if able and not raising.goes_to_everybody(step):
        return able[:1]
    return list(dict.fromkeys([*able, *_deciding(site)]))


def _deciding(site: Site) -> list[User]:
    people = User.objects.of_site(site).order_by("pk")
    return [person for person in people if may(person, Capability.EXAMINE_AND_DECIDE, site)]
