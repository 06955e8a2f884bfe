"""A consent signed on paper: one person writes down what stands on the scan, another one looks and confirms it."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta

from django.db import IntegrityError, transaction
from django.utils.translation import gettext_lazy as _
from django_stubs_ext import StrOrPromise

from clinic.accounts.models import User
from clinic.accounts.rights import Capability, require
from clinic.documents import filing, incoming
from clinic.documents.models import IncomingPaper, IssuedDocument, PaperKind
from clinic.documents.sections import may_open
from clinic.patients.person import is_of_person
from clinic.trail.actor import Actor
from clinic.trail.refusals import Refusal
from whitening.cases.access import plan_in_force
from whitening.cases.actions import hold_open
from whitening.cases.models import Case, Plan
from whitening.cases.papers import is_about
from whitening.consent import versions
from whitening.consent.actions.blank_words import why_not_these_words
from whitening.consent.actions.interpreting import signed_on_paper
from whitening.consent.actions.noting import note
from whitening.consent.actions.photographs import choose_photographs
from whitening.consent.actions.printing import FORM, TEXT
from whitening.consent.actions.signing import frozen_text
from whitening.consent.models import ConsentText, PaperCheck, PaperReading, PhotoUse, Signature, SignedBy
from whitening.consent.names import is_same_name
from whitening.consent.reading import signing_facts, talk_about
from whitening.consent.rules import PaperFacts, why_not_on_paper, why_not_yet
from whitening.consent.sealing import seal
from whitening.consent.seals import newest_answers_at, sealed

NAME_DIFFERS = _(
    "The name beside the signature is not %(name)s. Look at the scan once more; if it does stand there, write why it "
    "is this patient's, such as “name before marriage”."
)


class PaperNotUsable(Refusal):
    code = "consent.paper_not_usable"
    sentence = _("%(why)s")


class SamePerson(Refusal):
    code = "consent.same_person"
    sentence = _("You wrote down what stands on this paper. Somebody else has to look at it now.")


class CheckedAlready(Refusal):
    code = "consent.checked_already"
    sentence = _("This paper was checked meanwhile. Reload the page to see what came of it.")


class SayWhatDiffers(Refusal):
    code = "consent.say_what_differs"
    sentence = _("Write what differs from the paper, so that it can be written down anew.")


@dataclass(frozen=True, slots=True, kw_only=True)
class PaperSaid:
    """What stands on a signed paper. form is None for a blank form that was filled in by hand.

    mark: of such a blank one, as its foot bears it; see Wording.mark. name_words: why a name that differs from the
    patient's is theirs all the same.
    """

    signer_name: str
    signed_on: date
    is_whole: bool
    photographs: Mapping[PhotoUse, bool]
    interpreter_signed: bool = False
    form: IssuedDocument | None = None
    mark: str = ""
    name_words: str = ""


def read_paper(
    *, case: Case, paper: IncomingPaper, said: PaperSaid, user: User, actor: Actor, now: datetime
) -> PaperReading:
    """The first of two people; nothing is agreed by it yet.

    Raises PaperNotUsable, CaseClosed, FileLost, FileAltered.
    """
    require(user, Capability.CONSENT_WITNESS, case.site)
    incoming.read(paper)
    with transaction.atomic():
        held = hold_open(case)
        filing.hold_standing(paper)
        text = _text(held, said, now)
        _refuse(_why_not_paper(held, paper, user) or _why_not_said(held, said) or _why_not(held, text, said, now))
        if text.pk is None:
            text.save()
        reading = PaperReading.objects.create(
            paper=paper,
            text=text,
            form=said.form,
            signer_name=said.signer_name,
            name_words="" if is_same_name(said.signer_name, case.patient.name) else said.name_words.strip(),
            signed_on=said.signed_on,
            photographs={str(use): allowed for use, allowed in said.photographs.items()},
            interpreter_signed=said.interpreter_signed,
            read_at=now,
            read_by=user,
        )
        note("consent.paper_read", case, actor, {"reading": reading.pk, "paper": paper.pk, "sha256": paper.sha256})
    return reading


def check_paper(
    *, reading: PaperReading, agrees: bool, words: str, user: User, actor: Actor, now: datetime
) -> Signature | None:
    """The second of two people. A yes makes it the patient's consent, like one that was signed on the screen.

    Raises SamePerson, CheckedAlready, SayWhatDiffers, PaperNotUsable, CaseClosed, FileLost, FileAltered.
    """
    case = reading.text.case
    require(user, Capability.CONSENT_WITNESS, case.site)
    if reading.read_by_id == user.pk:
        raise SamePerson
    if not agrees and not words.strip():
        raise SayWhatDiffers
    incoming.read(reading.paper)
    try:
        with transaction.atomic():
            held = hold_open(case)
            filing.hold_standing(reading.paper)
            if PaperCheck.objects.filter(reading=reading).exists():
                raise CheckedAlready
            _write_check(reading, agrees, words, user, actor, now)
            return _sign(held, reading, user, actor, now) if agrees else None
    except IntegrityError as error:
        raise CheckedAlready from error


def _write_check(reading: PaperReading, agrees: bool, words: str, user: User, actor: Actor, now: datetime) -> None:
    PaperCheck.objects.create(
        reading=reading, agrees=agrees, words=words, checked_at=now, checked_by=user, read_by=reading.read_by
    )
    note("consent.paper_checked", reading.text.case, actor, {"reading": reading.pk, "agrees": agrees, "words": words})


def _sign(case: Case, reading: PaperReading, user: User, actor: Actor, now: datetime) -> Signature:
    said = PaperSaid(
        signer_name=reading.signer_name,
        signed_on=reading.signed_on,
        is_whole=True,
        photographs={PhotoUse(use): allowed for use, allowed in reading.photographs.items()},
        form=reading.form,
    )
    _refuse(_why_not_opened(reading.paper, user) or _why_withdrawn(reading) or _why_not(case, reading.text, said, now))
    signed_at = _signed_at(case, reading)
    signature = Signature(
        text=reading.text,
        case=case,
        plan=reading.text.plan,
        method=SignedBy.PAPER,
        signer_name=reading.signer_name,
        photographs=reading.photographs,
        device="paper",
        zone=case.site.timezone,
        signed_at=signed_at,
        answers=newest_answers_at(case, _known_at(reading, signed_at, now)),
        reading=reading,
    )
    signature.sha256 = seal(sealed(signature))
    signature.save(force_insert=True)
    signed_on_paper(reading, actor=actor, signed_at=signed_at)
    _choose(case, reading, said.photographs, actor=actor, signed_at=signed_at, now=now)
    note("consent.signed_on_paper", case, actor, {"reading": reading.pk, "sha256": signature.sha256})
    return signature


def _known_at(reading: PaperReading, signed_at: datetime, now: datetime) -> datetime:
    """Until when health answers count as known: to the printing of the form; of a blank one, to the end of the day."""
    return (
        max(signed_at, reading.form.issued_at) if reading.form else _end_of(reading.text.case, reading.signed_on, now)
    )


def _end_of(case: Case, day: date, now: datetime) -> datetime:
    """Of a day that is not over yet: now."""
    zone = case.site.zone
    if day >= now.astimezone(zone).date():
        return now
    return datetime.combine(day + timedelta(days=1), time(), tzinfo=zone)


def _choose(
    case: Case,
    reading: PaperReading,
    photographs: Mapping[PhotoUse, bool],
    *,
    actor: Actor,
    signed_at: datetime,
    now: datetime,
) -> None:
    """As chosen on that day: what the patient chose later on the phone holds. Of the same day a no wins."""
    for allowed, at in ((True, signed_at), (False, _end_of(case, reading.signed_on, now))):
        choices = {use: allowed for use, chosen in photographs.items() if chosen is allowed}
        choose_photographs(case=case, choices=choices, actor=actor, now=at)


def _signed_at(case: Case, reading: PaperReading) -> datetime:
    """The beginning of the day beside the signature; on the day of the talk, the moment of the talk."""
    midnight = datetime.combine(reading.signed_on, time(), tzinfo=case.site.zone)
    return max(midnight, reading.text.talk.talked_at)


def _text(case: Case, said: PaperSaid, now: datetime) -> ConsentText:
    plan = plan_in_force(case)
    talk = talk_about(plan) if plan else None
    if plan is None or talk is None:
        raise PaperNotUsable(why=_("Nothing was talked through about the plan that stands now. Record the talk first."))
    if said.form is None:
        words = versions.by_mark(said.mark)
        _refuse(why_not_these_words(words, talk=talk, before=_end_of(case, said.signed_on, now)))
        return frozen_text(case=case, plan=plan, talk=talk, now=now, words=words)
    text = case.consent_texts.select_related("talk", "plan").filter(pk=_text_of(said.form)).first()
    if text is None:
        raise PaperNotUsable(why=_("This form was printed for another case."))
    return text


def _text_of(form: IssuedDocument) -> int:
    return int(form.subject_id) if (form.kind, form.subject_kind) == (FORM, TEXT) else 0


def _why_not_paper(case: Case, paper: IncomingPaper, user: User) -> StrOrPromise | None:
    if not is_of_person(paper.patient_id, case.patient) or paper.kind != PaperKind.CONSENT:
        return _("File the scan as a consent signed on paper, for this patient, first.")
    if not is_about(case, paper):
        return _("This scan was filed about another case of the patient. File it for this one.")
    if PaperReading.objects.waiting().filter(paper=paper).exists():
        return _("Somebody wrote down already what stands on this paper. It waits for a second person.")
    if Signature.objects.filter(reading__paper=paper).exists():
        return _("This paper counts as a consent already.")
    return _why_not_opened(paper, user)


def _why_not_opened(paper: IncomingPaper, user: User) -> StrOrPromise | None:
    return None if may_open(paper, user) else _("You may not open this paper, so you cannot have read it.")


def _why_withdrawn(reading: PaperReading) -> StrOrPromise | None:
    if not hasattr(reading, "withdrawal"):
        return None
    return _("The patient has withdrawn this consent meanwhile. The paper counts for nothing any more.")


def _why_not_said(case: Case, said: PaperSaid) -> StrOrPromise | None:
    if not said.is_whole:
        return _("A paper that lacks a page, or on which something was changed, is no consent. Print it anew.")
    if set(said.photographs) != set(PhotoUse):
        return _("Write down yes or no for each use of photographs, as it stands on the paper.")
    if not is_same_name(said.signer_name, case.patient.name) and not said.name_words.strip():
        return NAME_DIFFERS % {"name": case.patient.name}
    return None


def _why_not(case: Case, text: ConsentText, said: PaperSaid, now: datetime) -> StrOrPromise | None:
    """Like on the screen, asked of the day beside the signature; and the paper has to be about this very plan."""
    plan: Plan | None = plan_in_force(case)
    if plan is None or text.plan_id != plan.pk:
        return _("The plan has changed since this form was printed. Print it anew, and let that one be signed.")
    talk, zone = talk_about(plan), case.site.zone
    facts = signing_facts(case=case, plan=plan, talk=talk, now=now)
    if talk is None or facts.talked_on is None:
        return why_not_yet(facts)
    printed_at = said.form.issued_at if said.form else None
    on_paper = PaperFacts(
        today=facts.today,
        signed_on=said.signed_on,
        talked_on=facts.talked_on,
        talked_at=talk.talked_at,
        printed_on=printed_at.astimezone(zone).date() if printed_at else None,
        printed_at=printed_at,
        withdrawn_on=facts.withdrawn_at.astimezone(zone).date() if facts.withdrawn_at else None,
        withdrawn_at=facts.withdrawn_at,
        talks_that_day=sum(one.talked_at.astimezone(zone).date() == facts.talked_on for one in plan.talks.all()),
    )
    of_another_talk = _("It was talked through again since. Print it anew, and let that one be signed.")
    return (
        why_not_on_paper(on_paper)
        or (of_another_talk if text.talk_id != talk.pk else None)
        or why_not_yet(replace(facts, today=said.signed_on))
    )


def _refuse(why: StrOrPromise | None) -> None:
    if why is not None:
        raise PaperNotUsable(why=why)
