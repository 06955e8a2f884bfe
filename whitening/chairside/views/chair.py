"""The screen beside the chair: one page, and one address for every tap."""

from collections.abc import ItemsView, Mapping
from datetime import UTC, datetime
from uuid import UUID, uuid4

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseNotModified
from django.shortcuts import redirect, render
from django.utils.http import url_has_allowed_host_and_scheme

from clinic.accounts.doors import StaffRequest, staff
from clinic.accounts.models import User
from clinic.accounts.rights import Capability, may
from clinic.trail.access import note_read
from clinic.trail.clock import now
from clinic.trail.refusals import Refusal
from whitening.cases.access import access_case
from whitening.chairside import asked_again, live, log
from whitening.chairside.access import access_session
from whitening.chairside.actions import (
    EntryRefused,
    Tap,
    close_session,
    confirm_identity,
    record_tap,
    undo_tap,
)
from whitening.chairside.models import LightUnit, Session
from whitening.chairside.protocol import choices
from whitening.chairside.protocol.codec import from_wire
from whitening.chairside.protocol.kinds import PHASES, Phase, Step
from whitening.chairside.protocol.payloads import BadPayload, Closed, Payload, Person
from whitening.chairside.protocol.state import Moment, SessionState
from whitening.screening.reading import questions_to_ask
from whitening.screening.teeth import tooth

LONGEST_WIRE = 300
PROTECTING = frozenset(step for step, phase in PHASES.items() if phase is Phase.PROTECT)
LONGEST_NUMBER = 9


def while_open(request: HttpRequest, arguments: Mapping[str, object]) -> bool:
    """The screen beside the chair does not lock while its session is open, and shows only that session."""
    user = request.user
    return (
        isinstance(user, User) and Session.objects.visible_to(user).open().filter(pk=int(str(arguments["pk"]))).exists()
    )


@staff(Capability.CHAIRSIDE_RECORD, while_locked=while_open)
def chairside(request: StaffRequest, pk: int) -> HttpResponse:
    session = access_session(user=request.user, pk=pk, to=Capability.CHAIRSIDE_RECORD)
    note_read(
        actor=request.actor,
        what="chairside",
        subject=("session", pk),
        patient_id=session.case.patient_id,
        site_id=session.site_id,
    )
    return page_of(request, session)


@staff(Capability.CHAIRSIDE_RECORD, background=True, while_locked=while_open)
def screen(request: StaffRequest, pk: int) -> HttpResponse:
    """The same page for a second screen, or for a clock that has run out; 304 while nothing has changed."""
    session = access_session(user=request.user, pk=pk, to=Capability.CHAIRSIDE_RECORD)
    known = live.Version.read(request.headers.get("If-None-Match", ""))
    if known is not None and known.is_current(now()):
        return _marked(HttpResponseNotModified(), known)
    shown = live.shown_of(session, now=now())
    if known is not None and known.tag == shown.version.tag:
        return _marked(HttpResponseNotModified(), shown.version)
    return page_of(request, session, shown=shown)


@staff(Capability.CHAIRSIDE_RECORD, methods=("POST",), while_locked=while_open)
def event(request: StaffRequest, pk: int) -> HttpResponse:
    """Takes one tap. A tap that was sent before changes nothing and is answered like the first time."""
    session = access_session(user=request.user, pk=pk, to=Capability.CHAIRSIDE_RECORD)
    try:
        _take(request, session)
    except Refusal as refusal:
        messages.error(request, str(refusal))
        return page_of(request, session, status=422 if isinstance(refusal, EntryRefused) else 409)
    if request.headers.get("X-Tap") == "1":
        return page_of(request, access_session(user=request.user, pk=pk, to=Capability.CHAIRSIDE_RECORD))
    return redirect("chairside", pk=pk)


@staff(Capability.SESSION_OPEN, methods=("POST",))
def identity(request: StaffRequest, pk: int) -> HttpResponse:
    """Name and date of birth were asked; back to the page that has the button."""
    case = access_case(user=request.user, pk=pk, to=Capability.SESSION_OPEN)
    confirm_identity(case=case, user=request.user, actor=request.actor, now=now())
    back = request.POST.get("next", "")
    if url_has_allowed_host_and_scheme(back, allowed_hosts={request.get_host()}, require_https=request.is_secure()):
        return redirect(back)
    return redirect("case", pk=pk)


def _take(request: StaffRequest, session: Session) -> None:
    at = now()
    client_id = _client_id(request.POST.get("id", ""))
    happened_at = _instant(request.POST.get("at", ""), otherwise=at)
    user, actor = request.user, request.actor
    if tapped := request.POST.get("t"):
        undo_tap(
            session=session,
            tap=_client_id(tapped),
            client_id=client_id,
            happened_at=happened_at,
            user=user,
            actor=actor,
            now=at,
        )
        return
    payloads = _payloads(request, session)
    if isinstance(payloads[-1], Closed):
        close_session(session=session, client_id=client_id, user=user, actor=actor, now=at)
        return
    seen = request.POST.get("v", "")
    tap = Tap(
        payloads=payloads,
        client_id=client_id,
        happened_at=happened_at,
        seen=int(seen) if seen.isdecimal() and len(seen) <= LONGEST_NUMBER else None,
    )
    record_tap(session=session, tap=tap, user=user, actor=actor, now=at)


def _payloads(request: StaffRequest, session: Session) -> tuple[Payload, ...]:
    try:
        return from_wire(
            request.POST.get("e", "")[:LONGEST_WIRE],
            people=log.people_here(session),
            more=_more(request),
            words=request.POST.get("words"),
        )
    except BadPayload as bad:
        raise EntryRefused(why=str(bad)) from bad


def _more(request: StaffRequest) -> list[str]:
    """What the controls of a form add; the items of the list that were shown travel as one argument."""
    shown = [".".join(request.POST.getlist("s"))] if "s" in request.POST else []
    return [*request.POST.getlist("a"), *shown]


def _client_id(text: str) -> str:
    """The device's own id for this tap; without one (no scripts) the server makes it."""
    try:
        return str(UUID(text))
    except ValueError:
        return str(uuid4())


def _instant(text: str, *, otherwise: datetime) -> datetime:
    try:
        at = datetime.fromisoformat(text)
        return at.astimezone(UTC) if at.tzinfo else otherwise
    except (ValueError, OverflowError):
        # The first and the last day of the calendar do not exist in every zone.
        return otherwise


def _of_this_patient(session: Session, shown: live.Shown) -> dict[str, object]:
    """What is different from the steps of everybody, until it is decided that nothing more is done to the teeth."""
    state, care = shown.screen.state, () if shown.screen.state.over else shown.care
    return {
        "care": [step for step in care if step.done is None],
        "care_done": [step for step in care if step.done is not None],
        "left_out": () if state.over else [tooth(number).label for number in session.plan.teeth_left_out],
        # On the way to the gel; while it is on, its clock and taking it off come before what is still to be done.
        "care_first": state.step in PROTECTING or state.moment in {Moment.MIX, Moment.GEL_ON},
        "teeth_first": state.step in PROTECTING or state.moment in {Moment.MIX, Moment.GEL_ON, Moment.RUNNING},
    }


def _askers(request: StaffRequest, state: SessionState) -> tuple[Person, ...]:
    """Who can have read out the list: the two at the chair, else who is signed in."""
    if state.people is not None:
        return state.people.clinician, state.people.assistant
    return (Person(id=request.user.pk, name=request.user.name),)


def _clinicians(session: Session) -> ItemsView[int, str]:
    return log.who_may_treat(session, now().astimezone(session.site.zone).date()).items()


def _marked(response: HttpResponse, version: live.Version) -> HttpResponse:
    """Each answer sets the screen's clock again, also while nothing else has changed."""
    response.headers["ETag"] = f'"{version}"'
    response.headers["X-Now"] = now().isoformat()
    return response


def page_of(
    request: StaffRequest, session: Session, *, shown: live.Shown | None = None, status: int = 200
) -> HttpResponse:
    shown = shown or live.shown_of(session, now=now())
    screen, state, held = shown.screen, shown.screen.state, shown.held
    context = {
        "session": session,
        "patient": session.case.patient,
        "screen": screen,
        "state": state,
        "version": str(shown.version),
        "now": now(),
        "tap_id": uuid4(),
        "light": LightUnit.objects.filter(pk=screen.light_unit).first() if screen.light_unit else None,
        "people": log.at_the_chair(session).items() if screen.asks else (),
        "clinicians": _clinicians(session) if screen.asks else (),
        "chaperones": list(choices.Chaperone),
        "interpreters": list(choices.Interpreter),
        "counts": range(1, 9),
        "reask": asked_again.numbered(session) if state.step is Step.REASK else (),
        "askers": _askers(request, state),
        "asks_open": bool(state.against) and bool(questions_to_ask(session.case, user=request.user)[0]),
        **_of_this_patient(session, shown),
        "withdraws": held.signature if held.withdrawal is None else None,
        "may_close": may(request.user, Capability.SESSION_CLOSE, session.site),
    }
    return _marked(render(request, "chairside/session.html", context, status=status), shown.version)
