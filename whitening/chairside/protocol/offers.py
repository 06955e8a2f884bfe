"""What the screen offers next, for the steps that happen once. The first offer is the usual one: one tap."""

from collections.abc import Callable, Mapping

from django.utils.translation import gettext_lazy as _

from whitening.chairside.protocol import payloads as made
from whitening.chairside.protocol.choices import (
    Difference,
    MixEnd,
    NextSteps,
    PictureMoment,
    Pictures,
    Polish,
)
from whitening.chairside.protocol.facts import Tally
from whitening.chairside.protocol.kinds import Kind, Step
from whitening.chairside.protocol.limits_reached import steps_left
from whitening.chairside.protocol.payloads import Payload, Person
from whitening.chairside.protocol.saying import said
from whitening.chairside.protocol.state import Ask, Offer

# Leaving out is one tap too, and for the safety steps it asks for the clinician's words at closing.
LEAVE_OUT_NEVER = frozenset({Step.PEOPLE, Step.CYCLES, Step.ADVICE, Step.CLOSE})


def one(payload: Payload) -> Offer:
    return Offer(label=payload.kind.label, payloads=(payload,))


def clinician(facts: Tally) -> Person | None:
    return facts.people.clinician if facts.people else facts.plan.clinician


def assistant(facts: Tally) -> Person | None:
    return facts.people.assistant if facts.people else facts.plan.assistant


def _people(facts: Tally) -> list[Offer]:
    choose = Offer(label=Ask.PEOPLE.label, ask=Ask.PEOPLE)
    first, second = facts.plan.clinician, facts.plan.assistant
    if first is None or second is None or first == second:
        return [choose]
    usual = Offer(label=_("Yes, these two are here"), payloads=(made.People(clinician=first, assistant=second),))
    return [usual, choose]


def _reask(_facts: Tally) -> list[Offer]:
    """Never one tap: each item of the list is shown first, and who asked is named."""
    return [Offer(label=Ask.REASK.label, ask=Ask.REASK)]


def _inspection(facts: Tally) -> list[Offer]:
    choose = Offer(label=Ask.INSPECTION.label, ask=Ask.INSPECTION)
    first, second = clinician(facts), assistant(facts)
    if first is None or second is None or first.name == second.name:
        return [choose]
    return [Offer(label=_("Both have looked"), payloads=(made.Inspection(first=first, second=second),)), choose]


def _polish(_facts: Tally) -> list[Offer]:
    return [Offer(label=how.label, payloads=(made.Polished(how=how),)) for how in Polish]


def _start_shade(facts: Tally) -> list[Offer]:
    return [Offer(label=tab, payloads=(made.StartShade(tab=tab),)) for tab in facts.plan.tabs]


def _final_shade(facts: Tally) -> list[Offer]:
    return [Offer(label=tab, payloads=(made.FinalShade(tab=tab),)) for tab in facts.plan.tabs]


def _photographs(moment: PictureMoment) -> list[Offer]:
    return [
        Offer(label=pictures.label, payloads=(made.Photographs(moment=moment, pictures=pictures),))
        for pictures in Pictures
    ]


def _barrier(facts: Tally) -> list[Offer]:
    plan = facts.plan
    placed = made.Barrier(pieces=len(plan.arch_list))
    other = Offer(label=Ask.PIECES_IN.label, ask=Ask.PIECES_IN)
    if not plan.resin_barrier:
        return [Offer(label=_("Isolation placed"), payloads=(placed,)), other]
    cured = made.Cured(seconds_per_area=plan.cure_seconds, light_unit=plan.curing_unit)
    cured_label = _("Cured, %(seconds)d s on each area") % {"seconds": plan.cure_seconds}
    if facts.placed:
        return [Offer(label=cured_label, payloads=(cured,))]
    both = _("Placed and cured, %(seconds)d s on each area") % {"seconds": plan.cure_seconds}
    return [Offer(label=both, payloads=(placed, cured)), one(placed), other]


def barrier_off(facts: Tally) -> made.BarrierOff:
    return made.BarrierOff(pieces_out=facts.pieces_in or 0)


def _barrier_off(facts: Tally) -> list[Offer]:
    payload = barrier_off(facts)
    count = {"count": payload.pieces_out}
    alone = Offer(label=_("Barrier off, %(count)d of %(count)d pieces counted out") % count, payloads=(payload,))
    other = Offer(label=Ask.PIECES_OUT.label, ask=Ask.PIECES_OUT)
    if Step.EYEWEAR_OFF not in steps_left(facts):
        return [alone, other]
    label = _("Barrier off, %(count)d of %(count)d pieces counted out; eyewear off") % count
    return [Offer(label=label, payloads=(payload, made.EyewearOff())), alone, other]


def _ended_early(_facts: Tally) -> list[Offer]:
    return [Offer(label=each.label, payloads=(made.EndedEarly(difference=each),)) for each in Difference]


def _advice(facts: Tally) -> list[Offer]:
    both = (made.Advice(), made.NextStepsAgreed())
    usual = Offer(label=_("Advice given, next steps as planned"), payloads=both)
    only = one(made.Advice())
    return [only] if Step.NEXT_STEPS not in steps_left(facts) else [usual, only]


def _next_steps(_facts: Tally) -> list[Offer]:
    return [Offer(label=each.label, payloads=(made.NextStepsAgreed(steps=each),)) for each in NextSteps]


def _plain(payload: type[Payload]) -> Callable[[Tally], list[Offer]]:
    return lambda _facts: [one(payload())]


STEP_OFFERS: Mapping[Step, Callable[[Tally], list[Offer]]] = {
    Step.PEOPLE: _people,
    Step.REASK: _reask,
    Step.STOP_SIGNAL: _plain(made.StopSignal),
    Step.SPLASH_GLASSES: _plain(made.SplashGlasses),
    Step.POLISH: _polish,
    Step.OPENER: _plain(made.Opener),
    Step.START_SHADE: _start_shade,
    Step.START_PHOTOS: lambda _facts: _photographs(PictureMoment.START),
    Step.ISOLATION: _plain(made.Isolation),
    Step.EYEWEAR: _plain(made.Eyewear),
    Step.BARRIER: _barrier,
    Step.INSPECTION: _inspection,
    Step.BARRIER_OFF: _barrier_off,
    Step.EYEWEAR_OFF: _plain(made.EyewearOff),
    Step.FINAL_SHADE: _final_shade,
    Step.FINISH_PHOTOS: lambda _facts: _photographs(PictureMoment.FINISH),
    Step.ENDED_EARLY: _ended_early,
    Step.ADVICE: _advice,
    Step.NEXT_STEPS: _next_steps,
}


def leave_out(step: Step) -> list[Offer]:
    if step in LEAVE_OUT_NEVER:
        return []
    return [Offer(label=_("Leave this step out"), payloads=(made.Skipped(step=step),))]


def mixes_left(facts: Tally) -> list[Offer]:
    """One tap for all of them, or one for each; nobody closes over a mix of which nothing is known."""
    mixes = [mix.number for mix in facts.open_mixes]
    each = [_mix_ended(number, end) for number in mixes for end in MixEnd]
    if len(mixes) == 1:
        return each
    gone = tuple(made.MixDiscarded(mix=number) for number in mixes)
    label = _("All %(count)d mixes discarded") % {"count": len(mixes)}
    return [Offer(label=label, payloads=gone), *each]


def _mix_ended(number: int, end: MixEnd) -> Offer:
    payload = made.MixDiscarded(mix=number, end=end)
    return Offer(label=said(payload), payloads=(payload,))


def words() -> Offer:
    return Offer(label=Kind.WORDS.label, ask=Ask.WORDS)
