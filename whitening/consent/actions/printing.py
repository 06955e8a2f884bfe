"""The consent as a form to sign by hand: filled in for one plan, or blank."""

from datetime import date, datetime

from django.conf import settings
from django.db import transaction
from django.db.models import Q, QuerySet
from django.utils.translation import gettext_lazy as _

from clinic.accounts.models import Site, User
from clinic.accounts.rights import Capability, require
from clinic.diary import papers
from clinic.documents import actions as documents
from clinic.documents import kinds, resting
from clinic.documents.actions import Prepared
from clinic.documents.models import IncomingPaper, IssuedDocument
from clinic.trail.actor import Actor
from whitening.cases.access import plan_in_force
from whitening.cases.actions import hold_open
from whitening.cases.models import Case
from whitening.consent import versions, wording
from whitening.consent.actions.signing import CannotSign, frozen_text, why_not_now
from whitening.consent.models import ConsentText, PhotoUse
from whitening.consent.reading import interpreted, talk_about
from whitening.consent.rules import WORDS_NOT_READY

FORM, BLANK, TEXT = "consent_form", "consent_blank", "consent_text"
# To be written on by hand.
GAP = "_" * 24


class Gaps(dict[str, str]):
    """A gap for whatever a wording asks for."""

    def __missing__(self, _name: str) -> str:
        return GAP


def print_form(*, case: Case, user: User, actor: Actor, now: datetime, is_large: bool = False) -> IssuedDocument:
    """The very words that would be signed on the screen now, frozen. Raises CannotSign, CaseClosed, RenderFailed."""
    require(user, Capability.CONSENT_WITNESS, case.site)
    text = _text(case, now)
    held = forms_of(text).filter(large_print=is_large).first() if text.pk else None
    if held is not None:
        return held
    mark = versions.mark_of(text)
    prepared = documents.prepare(
        kind=FORM,
        patient=case.patient,
        site=case.site,
        context=_context(wording.elements_of(text.body), text=text, mark=mark),
        language=text.language,
        title=_("Consent, to be signed by hand"),
        now=now,
        large_print=is_large,
        foot=mark,
    )
    with transaction.atomic():
        again = _text(hold_open(case), now)
        if again.sha256 != text.sha256:
            raise CannotSign(why=_("The plan or the talk has changed meanwhile. Print it once more."))
        if again.pk is None:
            again.save()
        return documents.file_away(prepared, subject=(TEXT, again.pk), actor=actor)


def print_blank(
    *, site: Site, language: str, user: User, actor: Actor, now: datetime, is_large: bool = False
) -> Prepared:
    """Nobody's: for a day without the program. Raises CannotSign, RenderFailed."""
    require(user, Capability.DOCUMENTS_READ, site)
    words_in_use = versions.in_use(language if versions.may_be_signed_in(language) else settings.LANGUAGE_CODE)
    if words_in_use is None:
        raise CannotSign(why=WORDS_NOT_READY)
    elements = wording.fill(words_in_use, Gaps())
    return documents.print_out(
        kind=BLANK,
        site=site,
        context=_context(elements, text=None, mark=words_in_use.mark),
        language=words_in_use.language,
        title=_("Consent, to be filled in and signed by hand"),
        subject=("site", site.pk),
        actor=actor,
        now=now,
        large_print=is_large,
        foot=words_in_use.mark,
    )


def _blank_of_day(*, site: Site, day: date, user: User, actor: Actor, now: datetime, large_print: bool) -> Prepared:
    """Whichever day: beside the other papers for a day without the program."""
    return print_blank(site=site, language=user.language, user=user, actor=actor, now=now, is_large=large_print)


def forms_of(text: ConsentText) -> QuerySet[IssuedDocument]:
    """The printed forms with these words, the newest first; not those from before it was talked through again."""
    rows = IssuedDocument.objects.about((TEXT, text.pk)).filter(kind=FORM, issued_at__gte=text.talk.talked_at)
    return rows.filter(template_version=kinds.get(FORM).version).order_by("-issued_at", "-pk")


def _text(case: Case, now: datetime) -> ConsentText:
    plan = plan_in_force(case)
    talk = talk_about(plan) if plan else None
    why = why_not_now(case=case, now=now)
    if why is not None or plan is None or talk is None:
        raise CannotSign(why=why)
    return frozen_text(case=case, plan=plan, talk=talk, now=now)


def _context(elements: tuple[wording.Element, ...], *, text: ConsentText | None, mark: str) -> dict[str, object]:
    return {
        "elements": elements,
        "text": text,
        "mark": mark,
        "photographs": [use.label for use in PhotoUse],
        # On a blank form there is room for one, whoever it will be for.
        "with_interpreter": text is None or interpreted(text),
    }


def rests_on(paper: IncomingPaper) -> bool:
    """It counts as a consent, or waits for the second person."""
    return paper.readings.filter(Q(check_made=None, withdrawal=None) | Q(check_made__agrees=True)).exists()


def register() -> None:
    resting.register(rests_on)
    kinds.register(
        kinds.DocumentKind(
            code=FORM,
            # What the public check says: nobody shall take it for a consent that was given.
            word=_("consent form as printed, before anybody signed it"),
            clinical=True,
            template="documents/consent_form.html",
            version=2,
            tells_of=Capability.CONSENT_READ,
        )
    )
    kinds.register(
        kinds.DocumentKind(
            code=BLANK,
            word=_("blank consent form"),
            clinical=False,
            template="documents/consent_form.html",
            version=2,
            kept=False,
        )
    )
    papers.register_of_day(papers.DayPaper(code="consent", word=_("Blank consent form (PDF)"), draw=_blank_of_day))
