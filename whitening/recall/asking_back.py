"""The messages that ask a patient back, and the page they lead to. Neither offers any treatment."""

from collections.abc import Callable
from datetime import datetime, timedelta

from django.utils.translation import gettext_lazy as _

from clinic.messages import kinds, purposes, subjects
from clinic.messages.kinds import Kind, LinkSpec, Wanted
from clinic.messages.letters import Letter
from clinic.messages.models import DueMessage
from clinic.messages.wordings.saying import say
from whitening.recall import message_slots, timing
from whitening.recall.actions.recalling import MESSAGES, PURPOSES, is_in_treatment, not_wanted
from whitening.recall.models import OPEN_RECALL, Recall, RecallKind

NEXT_CHECK = "next_check"
LABELS = {
    RecallKind.CHECK: _("asked back for a dental check"),
    RecallKind.COLOUR: _("reminder about the colour, a year later"),
}
# As long as silence is waited for after the last time.
_OPEN_FOR = timedelta(days=timing.RECALL_TIMES * timing.RECALL_AGAIN_DAYS)


def register() -> None:
    subjects.register("recall", Recall, patient="case__patient")
    purposes.register(
        purposes.LinkPurpose(
            code=NEXT_CHECK,
            title=_("Your next visit"),
            subject_kind="recall",
            landing="next_check",
            window=_window,
        )
    )
    link: LinkSpec[Recall] = LinkSpec(purpose=NEXT_CHECK, subject_id=lambda row: row.pk)
    for kind, label in LABELS.items():
        kinds.register(
            Kind(
                code=MESSAGES[kind],
                label=label,
                purpose=PURPOSES[kind],
                subject_kind="recall",
                load=_load,
                still_wanted=_wanted,
                compose=_composer(MESSAGES[kind]),
                wording=f"recall/messages/{MESSAGES[kind]}",
                own_words=message_slots.OWN_WORDS[MESSAGES[kind]],
                lasts=timedelta(days=timing.RECALL_AGAIN_DAYS),
                link=link,
                letter_by=lambda _row, message: message.not_after,
            )
        )


def _load(pk: int) -> Recall | None:
    return Recall.objects.select_related("case__site", "case__patient").filter(pk=pk).first()


def _wanted(row: Recall, message: DueMessage, now: datetime) -> Wanted:
    if row.state not in OPEN_RECALL:
        return "answered or booked already"
    if is_in_treatment(row):
        return "in treatment"
    return True if not_wanted(row, now=now) is None else "not to be asked any more"


def _window(pk: int, now: datetime) -> purposes.Window | None:
    """From the day on which it was due until silence after the last time has lasted long enough."""
    row = _load(pk)
    if row is None:
        return None
    closes_at = row.due_at + _OPEN_FOR + timedelta(days=timing.RECALL_AGAIN_DAYS)
    return purposes.Window(opens_at=row.due_at, closes_at=closes_at) if now < closes_at else None


def _composer(code: str) -> Callable[[Recall, DueMessage, str], Letter]:
    def compose(row: Recall, message: DueMessage, link_url: str) -> Letter:
        context = {"site": row.case.site, "patient": row.case.patient, "link_url": link_url}
        return say(code, context)

    return compose
