"""What an entry says in a few words: on the button that makes it, and under Undo."""

from collections.abc import Callable, Mapping, Sequence
from typing import Any

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from whitening.chairside.protocol import payloads as made
from whitening.chairside.protocol.choices import MixEnd
from whitening.chairside.protocol.kinds import Kind
from whitening.chairside.protocol.payloads import Payload


def said(payload: Payload) -> str | Promise:
    """As exact as the entry: the tab of a shade, the number of a cycle, the place of a contact."""
    words = _WORDS.get(payload.kind)
    return words(payload) if words is not None else payload.kind.label


def said_of(payloads: Sequence[Payload]) -> str:
    """Of all that one tap made, in its order."""
    return " · ".join(str(said(payload)) for payload in payloads)


def _with(payload: Payload, answer: str | Promise) -> str | Promise:
    return _("%(what)s: %(answer)s") % {"what": payload.kind.label, "answer": answer}


def _gel_on(payload: made.GelOn) -> str | Promise:
    values = {"arches": payload.arches.label, "number": payload.cycle, "agreed": payload.agreed}
    if payload.agreed is not None and payload.cycle > payload.agreed:
        return _("Gel on: %(arches)s, cycle %(number)d, beyond the %(agreed)d agreed") % values
    return _("Gel on: %(arches)s, cycle %(number)d") % values


def _mix_started(payload: made.MixStarted) -> str | Promise:
    return _("Mix started, batch %(number)s") % {"number": payload.number}


def _mix_ended(payload: made.MixDiscarded) -> str | Promise:
    if payload.end is MixEnd.USED_UP:
        return _("Mix %(number)d used up") % {"number": payload.mix}
    return _("Mix %(number)d discarded") % {"number": payload.mix}


def _start_shade(payload: made.StartShade) -> str | Promise:
    return _("Starting shade %(tab)s") % {"tab": payload.tab}


def _final_shade(payload: made.FinalShade) -> str | Promise:
    return _("Final shade %(tab)s") % {"tab": payload.tab}


def _light_moved(payload: made.LightMoved) -> str | Promise:
    return _("Light is on tooth %(tooth)s") % {"tooth": payload.tooth}


def _contact(payload: made.Contact) -> str | Promise:
    return _("%(place)s touched") % {"place": payload.place.label}


def _people(payload: made.People) -> str | Promise:
    return _with(payload, f"{payload.clinician.name}, {payload.assistant.name}")


# The payload's class follows from the kind; the table says it once for all of them.
_WORDS: Mapping[Kind, Callable[[Any], str | Promise]] = {
    Kind.PEOPLE: _people,
    Kind.REASK: lambda payload: _with(payload, payload.asked_by.name),
    Kind.POLISH: lambda payload: payload.how.label,
    Kind.START_SHADE: _start_shade,
    Kind.PHOTOGRAPHS: lambda payload: _with(payload, payload.pictures.label),
    Kind.MIX_STARTED: _mix_started,
    Kind.MIX_DISCARDED: _mix_ended,
    Kind.GEL_ON: _gel_on,
    Kind.LIGHT_MOVED: _light_moved,
    Kind.SENSITIVITY: lambda payload: _with(payload, str(payload.score)),
    Kind.DECIDED: lambda payload: payload.choice.label,
    Kind.EMERGENCY_STEP: lambda payload: payload.step.label,
    Kind.TAKE_OFF_REASON: lambda payload: payload.reason.label,
    Kind.CONTACT: _contact,
    Kind.CONTACT_SETTLED: lambda payload: payload.action.label,
    Kind.FINAL_SHADE: _final_shade,
    Kind.NEXT_STEPS: lambda payload: _with(payload, payload.steps.label),
    Kind.ENDED_EARLY: lambda payload: payload.difference.label,
    Kind.SKIPPED: lambda payload: _("Left out: %(step)s") % {"step": payload.step.label},
}
