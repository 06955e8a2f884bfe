"""How a case stands with its consent: which signature counts, for which plan, and what changed since."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

from django.db.models import Max, Min
from django_stubs_ext import StrOrPromise

from clinic.accounts.dates import day_words
from clinic.diary.models import COMING
from whitening.cases.access import newest, plan_in_force, rows_in_memory
from whitening.cases.models import Case, Plan, VisitPurpose
from whitening.consent import versions
from whitening.consent.models import (
    ConsentText,
    Countersignature,
    InterpreterKind,
    InterpreterSignature,
    PaperWithdrawal,
    PhotoUse,
    Quote,
    Signature,
    Talk,
    Withdrawal,
)
from whitening.consent.plan_words import terms
from whitening.consent.rules import SigningFacts, first_day, holds_until, what_changed
from whitening.screening.facts import ConsentFacts
from whitening.screening.reading import jurisdiction_of


@dataclass(frozen=True, slots=True)
class Standing:
    """signature is the newest one of the case, whatever became of it."""

    plan: Plan | None
    signature: Signature | None
    countersignature: Countersignature | None
    withdrawal: Withdrawal | None
    changed: Sequence[StrOrPromise] = ()
    # The site's day of the newest signature.
    signed_on: date | None = None
    interpreter: InterpreterSignature | None = None

    @property
    def signed_this_plan(self) -> bool:
        return self.signature is not None and self.withdrawal is None and not self.changed

    @property
    def lacks_interpreter(self) -> bool:
        """Somebody interpreted the talk, and has not signed under these words: the consent is not complete."""
        return self.signature is not None and interpreted(self.signature.text) and self.interpreter is None

    @property
    def agreed(self) -> bool:
        return self.signed_this_plan and self.countersignature is not None and not self.lacks_interpreter

    def holds_on(self, day: date) -> bool:
        """Signed for this plan, not withdrawn, and not too old by that day."""
        return self.signed_this_plan and self.signed_on is not None and day <= holds_until(self.signed_on)

    def facts(self) -> ConsentFacts:
        """As the screening's rules want it: a plan that differs in nothing agreed counts as the signed one."""
        signed = self.plan.version if self.plan and self.signed_this_plan else None
        return ConsentFacts(signed_plan_version=signed, withdrawn=self.withdrawal is not None)


WITH_SIGNATURE = (
    "plan__product",
    "countersignature__countersigned_by",
    "withdrawal",
    "document",
    "text__talk",
    "text__interpreter_signature",
)


def interpreted(text: ConsentText) -> bool:
    return text.talk.interpreter != InterpreterKind.NONE


def interpreter_of(text: ConsentText) -> InterpreterSignature | None:
    return getattr(text, "interpreter_signature", None)


def standing(case: Case, *, plan: Plan | None = None) -> Standing:
    plan = plan or plan_in_force(case)
    signature: Signature | None = newest(case, "signatures", "signed_at", "pk", related=WITH_SIGNATURE)
    if signature is None:
        return Standing(plan, None, None, None)
    countersignature = getattr(signature, "countersignature", None)
    withdrawal = getattr(signature, "withdrawal", None)
    changed = what_changed(signed=terms(signature.plan), now=terms(plan)) if plan else ()
    signed_on = signature.signed_at.astimezone(case.site.zone).date()
    interpreter = interpreter_of(signature.text)
    return Standing(plan, signature, countersignature, withdrawal, changed, signed_on, interpreter)


def needed_on(case: Case, *, today: date) -> date:
    """The day for which a signature has to hold: the next session's, or today."""
    visits = case.visits.filter(purpose=VisitPurpose.SESSION, booking__status__in=COMING, booking__wall_on__gte=today)
    day: date | None = visits.aggregate(first=Min("booking__wall_on"))["first"]
    return day or today


def signing_facts(*, case: Case, plan: Plan | None, talk: Talk | None, now: datetime) -> SigningFacts:
    """What decides whether this plan may be signed now, read fresh."""
    zone, jurisdiction = case.site.zone, jurisdiction_of(case)
    held, quote = standing(case, plan=plan), quote_for(plan) if plan else None
    days = jurisdiction.cooling_off_days if jurisdiction else 0
    talked_on = talk.talked_at.astimezone(zone).date() if talk else None
    first_on = first_day(talked_on=talked_on, cooling_off_days=days) if talked_on else None
    today = now.astimezone(zone).date()
    return SigningFacts(
        today=today,
        case_open=case.closed_at is None,
        plan_in_force=plan is not None,
        talked_at=talk.talked_at if talk else None,
        talked_on=talked_on,
        can_decide=bool(talk and talk.can_decide),
        cooling_off_days=days,
        quote_holds_until=quote.valid_until if quote else None,
        already_signed=held.holds_on(needed_on(case, today=today)),
        withdrawn_at=_withdrawn_at(case, held),
        words_ready=talk is not None and versions.may_be_signed_in(talk.language),
        first_day=day_words(first_on) if first_on else "",
    )


def _withdrawn_at(case: Case, held: Standing) -> datetime | None:
    """The last no, also one that was said while a signed paper still waited."""
    on_paper = PaperWithdrawal.objects.filter(reading__text__case=case).aggregate(last=Max("withdrawn_at"))["last"]
    on_screen = held.withdrawal.withdrawn_at if held.withdrawal else None
    return max((at for at in (on_paper, on_screen) if at is not None), default=None)


def talk_about(plan: Plan) -> Talk | None:
    return plan.talks.select_related("talked_by").order_by("talked_at", "pk").last()


def talk_that_counts(held: Standing, *, holds: bool) -> Talk | None:
    """Of the signature that stands, also where a plan that asks for no new one followed it; else about the plan."""
    about_plan = talk_about(held.plan) if held.plan else None
    if held.signature is None or not held.signed_this_plan or (about_plan is not None and not holds):
        return about_plan
    return held.signature.text.talk


def first_signing_on(case: Case, plan: Plan) -> date | None:
    """From when on a plan that was talked through may be signed under local rules; None where nothing asks to wait."""
    jurisdiction = jurisdiction_of(case)
    days = jurisdiction.cooling_off_days if jurisdiction else 0
    talk = _talk_in_memory(case, plan) if days else None
    if talk is None:
        return None
    return first_day(talked_on=talk.talked_at.astimezone(case.site.zone).date(), cooling_off_days=days)


def _talk_in_memory(case: Case, plan: Plan) -> Talk | None:
    if not rows_in_memory(case, "talks"):
        return talk_about(plan)
    talks = [talk for talk in case.talks.all() if talk.plan_id == plan.pk]
    return max(talks, key=lambda talk: (talk.talked_at, talk.pk), default=None)


def quote_for(plan: Plan) -> Quote | None:
    """The newest: one that has run out is followed by another when it is talked through again."""
    return plan.quotes.order_by("quoted_at", "pk").last()


def photo_choices(case: Case) -> dict[PhotoUse, bool | None]:
    """What holds for each use; None where nothing was chosen yet, which is never a yes."""
    held: dict[PhotoUse, bool | None] = dict.fromkeys(PhotoUse)
    for row in case.photo_choices.order_by("chosen_at", "pk"):
        held[PhotoUse(row.use)] = row.allowed
    return held
