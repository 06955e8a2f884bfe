"""How a case stands with its consent: which signature counts, for which plan, and what changed since."""

from collections.abc import Sequence
from dataclasses import dataclass

from django_stubs_ext import StrOrPromise

from whitening.cases.access import plan_in_force
from whitening.cases.models import Case, Plan
from whitening.consent.models import Countersignature, PhotoUse, Quote, Signature, Talk, Withdrawal
from whitening.consent.plan_words import terms
from whitening.consent.rules import what_changed
from whitening.screening.facts import ConsentFacts


@dataclass(frozen=True, slots=True)
class Standing:
    """signature is the newest one of the case, whatever became of it."""

    plan: Plan | None
    signature: Signature | None
    countersignature: Countersignature | None
    withdrawal: Withdrawal | None
    changed: Sequence[StrOrPromise] = ()

    @property
    def signed_this_plan(self) -> bool:
        return self.signature is not None and self.withdrawal is None and not self.changed

    @property
    def agreed(self) -> bool:
        return self.signed_this_plan and self.countersignature is not None

    def facts(self) -> ConsentFacts:
        """As the screening's rules want it: a plan that differs in nothing agreed counts as the signed one."""
        signed = self.plan.version if self.plan and self.signed_this_plan else None
        return ConsentFacts(signed_plan_version=signed, withdrawn=self.withdrawal is not None)


def standing(case: Case, *, plan: Plan | None = None) -> Standing:
    plan = plan or plan_in_force(case)
    signature = (
        case.signatures.select_related("plan", "countersignature__countersigned_by", "withdrawal", "document")
        .order_by("signed_at", "pk")
        .last()
    )
    if signature is None:
        return Standing(plan, None, None, None)
    countersignature = getattr(signature, "countersignature", None)
    withdrawal = getattr(signature, "withdrawal", None)
    changed = what_changed(signed=terms(signature.plan), now=terms(plan)) if plan else ()
    return Standing(plan, signature, countersignature, withdrawal, changed)


def talk_about(plan: Plan) -> Talk | None:
    return plan.talks.select_related("talked_by").order_by("talked_at", "pk").last()


def quote_for(plan: Plan) -> Quote | None:
    return Quote.objects.filter(plan=plan).first()


def photo_choices(case: Case) -> dict[PhotoUse, bool | None]:
    """What holds for each use; None where nothing was chosen yet, which is never a yes."""
    held: dict[PhotoUse, bool | None] = dict.fromkeys(PhotoUse)
    for row in case.photo_choices.order_by("chosen_at", "pk"):
        held[PhotoUse(row.use)] = row.allowed
    return held
