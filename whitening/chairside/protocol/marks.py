"""What the log shows outside its limits, what must still be done before closing, and what the screen warns of."""

from dataclasses import dataclass

from django.utils.translation import gettext_lazy as _

from whitening.chairside.protocol.worded import Worded


class Beyond(Worded):
    """Recorded all the same, marked, and in need of the clinician's words at closing."""

    MIX_NOT_CLEARED = "mix_not_cleared", _("mixed although a gate was shut or the batch was blocked")
    NO_MIX = "no_mix", _("gel on without a mix of this session")
    MIX_TOO_OLD = "mix_too_old", _("gel on from a mix past its life")
    MIX_GONE = "mix_gone", _("gel on from a mix that was discarded")
    TOO_MANY_CYCLES = "too_many_cycles", _("more cycles than the product allows")
    CONTACT_SPENT = "contact_spent", _("gel on although the longest contact was reached")
    UNPROTECTED = "unprotected", _("gel on before eyewear, barrier and inspection were recorded")
    CONTACT_OPEN = "contact_open", _("gel on while a contact was not settled")
    AFTER_STOP = "after_stop", _("gel on after it was decided to stop")
    CYCLE_TOO_LONG = "cycle_too_long", _("gel on the teeth longer than one cycle allows")
    TOTAL_TOO_LONG = "total_too_long", _("gel on the teeth longer than the session allows")
    LIGHT_UNPLANNED = "light_unplanned", _("a light although the plan has none")
    LIGHT_UNPROTECTED = "light_unprotected", _("light on before filter eyewear was recorded")
    PIECES_DIFFER = "pieces_differ", _("pieces of the barrier counted out are not those put in")
    SAFETY_SKIPPED = "safety_skipped", _("a safety step was left out")
    AFTER_CLOSING = "after_closing", _("recorded after the session was closed")
    GEL_NOT_CLEARED = "gel_not_cleared", _("gel on although consent or another gate was shut, or its batch was blocked")
    NOT_AGREED = "not_agreed", _("more cycles than the patient had agreed to")


class Missing(Worded):
    """What still keeps the session from being closed."""

    GEL_IS_ON = "gel_is_on", _("Gel is still on the teeth: take it off.")
    EMERGENCY_OPEN = "emergency_open", _("Finish the steps after “Take the gel off now”.")
    REASON = "reason", _("Say why the gel was taken off.")
    CONTACT_OPEN = "contact_open", _("Settle the contact: what was done?")
    BARRIER_IN = "barrier_in", _("Take the barrier off and count the pieces.")
    NOT_OVER = "not_over", _("Decide that the session stops here.")
    STEPS = "steps", _("Finish the steps after the last cycle.")
    MIX_OPEN = "mix_open", _("Say of each mix whether it is discarded or used up.")
    WORDS = "words", _("The clinician's words on what went past a limit are missing.")


class Warn(Worded):
    TIME_UP = "time_up", _("Time is up: suction now.")
    TOO_LONG = "too_long", _("Past the longest time of a cycle: take the gel off.")
    TAKEN_BACK = "taken_back", _("“Gel on” was taken back, its clock runs on. No gel on the teeth? Tap “Gel off”.")
    MIX_EXPIRED = "mix_expired", _("The mix is past its life: use a fresh one.")
    MIX_BLOCKED = "mix_blocked", _("No fresh mix can be started: no batch of this gel is in date and free.")
    CONTACT_OPEN = "contact_open", _("A contact is not settled: no more gel until it is.")
    # Short: on the lowest screen both have to stand whole above the big button, with what shut the gate beneath.
    GATE_SHUT = "gate_shut", _("Stop: no gel may go on.")
    LIMIT_REACHED = "limit_reached", _("The limit of this session is reached: no further cycle is offered.")
    SEVERE = "severe", _("7 or more of 10: ask the clinician before another cycle.")
    KEEP_MOVING = "keep_moving", _("Light on: keep it moving, keep the distance of its maker.")
    NEVER_ALONE = "never_alone", _("Never leave the patient alone with gel or light.")
    GATE_SHUT_ON = "gate_shut_on", _("Stop: take the gel off.")
    AGREED_REACHED = (
        "agreed_reached",
        _("Every agreed cycle is done. One more needs a changed plan first, and the patient’s signature to it."),
    )


# Warnings that stand large; the others stay quiet.
LOUD = frozenset({Warn.TIME_UP, Warn.TOO_LONG, Warn.CONTACT_OPEN, Warn.GATE_SHUT, Warn.GATE_SHUT_ON, Warn.TAKEN_BACK})
# Why nothing more is offered: read where the question of one more would have stood.
WHY_NO_MORE = frozenset({Warn.LIMIT_REACHED, Warn.AGREED_REACHED})


@dataclass(frozen=True, slots=True, kw_only=True)
class PastLimit:
    """One entry (by its place in the log) that went past a limit."""

    seq: int
    code: Beyond
