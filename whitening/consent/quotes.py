"""The quote as a paper, and what was recorded about a deposit."""

from datetime import datetime
from decimal import Decimal

from django.db.models import QuerySet
from django.utils.translation import gettext_lazy as _

from clinic.accounts.languages import speaking, spoken
from clinic.documents import actions as documents
from clinic.documents import kinds, larger
from clinic.documents.models import IssuedDocument
from clinic.trail.actor import Actor
from whitening.cases.models import Case
from whitening.consent.models import Deposit, DepositStep, Quote
from whitening.consent.plan_words import money
from whitening.consent.preparing import Planned

KIND = "quote"


def deposits_of(case: Case) -> QuerySet[Deposit]:
    """Of all its quotes: a new plan does not make the money disappear."""
    return Deposit.objects.filter(quote__case=case).select_related("quote", "recorded_by")


def held_of(case: Case, *, currency: str) -> Decimal:
    """What the practice holds: received, less what was returned or kept."""
    signs = {DepositStep.RECEIVED: 1, DepositStep.RETURNED: -1, DepositStep.KEPT: -1}
    rows = deposits_of(case).filter(quote__currency=currency).values_list("step", "amount")
    return sum((signs.get(DepositStep(step), 0) * amount for step, amount in rows), Decimal(0))


def paper_of(quote: Quote, *, is_large: bool, actor: Actor, now: datetime) -> IssuedDocument:
    """The one that was drawn: a quote never changes, and another one is another paper. Raises RenderFailed."""
    case, language = quote.case, quote.case.patient.language
    held = IssuedDocument.objects.about((KIND, quote.pk)).filter(
        kind=KIND, large_print=is_large, language=spoken(language), template_version=kinds.get(KIND).version
    )
    if (found := held.first()) is not None:
        return found
    with speaking(spoken(language)):
        words = money(quote)
    return documents.issue(
        kind=KIND,
        patient=case.patient,
        site=case.site,
        context={"quote": quote, "words": words, "planned": Planned.of(quote.plan, session=1)},
        language=language,
        title=_("Quote"),
        subject=(KIND, quote.pk),
        actor=actor,
        now=now,
        large_print=is_large,
    )


def _larger(document: IssuedDocument, actor: Actor, now: datetime) -> IssuedDocument:
    rows = Quote.objects.select_related("case__site", "case__patient", "plan", "quoted_by")
    return paper_of(rows.get(pk=int(document.subject_id)), is_large=True, actor=actor, now=now)


def register() -> None:
    kinds.register(
        kinds.DocumentKind(code=KIND, word=_("quote"), clinical=False, template="documents/quote.html", version=1)
    )
    larger.register(KIND, _larger)
