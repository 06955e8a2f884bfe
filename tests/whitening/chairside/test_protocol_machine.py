"""Any session anybody could tap, offered or not, with time passing and taps taken back."""

from collections.abc import Callable
from dataclasses import replace
from datetime import datetime, timedelta
from random import Random

from hypothesis import HealthCheck, Phase, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule

from tests.whitening.chairside.protocol_cases import AMARA, BATCH, JONAS, PLAN, at, finished, ready, with_gel
from tests.whitening.chairside.protocol_cases import Log as Case
from whitening.chairside.protocol import choices
from whitening.chairside.protocol import payloads as made
from whitening.chairside.protocol.codec import from_data, to_data
from whitening.chairside.protocol.fold import fold
from whitening.chairside.protocol.kinds import Kind, Step
from whitening.chairside.protocol.limits import SessionPlan
from whitening.chairside.protocol.payloads import Payload
from whitening.chairside.protocol.state import Ask, ClockKind, Offer, SessionState

MORE_GEL = {Kind.GEL_ON, Kind.LIGHT_ON, Kind.MIX_STARTED}
of = st.sampled_from
PAYLOADS: st.SearchStrategy[Payload] = st.one_of(
    st.builds(made.People, clinician=st.just(AMARA), assistant=st.just(JONAS)),
    st.builds(made.Reask, asked_by=st.just(JONAS)),
    of([made.StopSignal(), made.SplashGlasses(), made.Opener(), made.Isolation(), made.Eyewear(), made.EyewearOff()]),
    of([made.LightOn(), made.LightOff(), made.TimeUp(), made.GelChanged(), made.Rinsed(), made.TakeOffNow()]),
    st.builds(made.CareTaken, finding=of(["SEN-01", "ALG-03"]), step=st.just("Look closely.")),
    of([made.Advice(), made.NextStepsAgreed(), made.Words(words="As it was.")]),
    st.builds(made.Polished, how=of(choices.Polish)),
    st.builds(made.StartShade, tab=of(PLAN.tabs)),
    st.builds(made.FinalShade, tab=of(PLAN.tabs)),
    st.builds(made.Photographs, moment=of(choices.PictureMoment), pictures=of(choices.Pictures)),
    st.builds(made.Barrier, pieces=st.integers(1, 4)),
    st.builds(made.BarrierOff, pieces_out=st.integers(0, 4)),
    st.builds(made.Cured, seconds_per_area=st.integers(1, 60)),
    st.builds(made.Inspection, first=st.just(AMARA), second=st.just(JONAS)),
    st.builds(made.MixStarted, batch=st.integers(7, 8), number=st.just("B-117"), cleared=st.booleans()),
    st.builds(made.MixDiscarded, mix=st.integers(0, 4)),
    st.builds(
        made.GelOn,
        cycle=st.integers(1, 7),
        mix=st.none() | st.integers(1, 4),
        arches=of(choices.Arches),
        cleared=st.booleans(),
        agreed=of([None, 2, 6]),
    ),
    st.builds(made.GelOff, arches=of(choices.Arches)),
    st.builds(made.LightMoved, tooth=of([*PLAN.teeth, "47"])),
    st.builds(made.Sensitivity, score=st.integers(0, 10)),
    st.builds(made.Decided, choice=of(choices.Choice)),
    st.builds(made.EmergencyStepDone, step=of(choices.EmergencyStep)),
    st.builds(made.TakeOffReasonGiven, reason=of(choices.TakeOffReason)),
    st.builds(made.Contact, place=of(choices.Place)),
    st.builds(made.ContactSettled, contact=st.integers(1, 40), action=of(choices.FirstAid)),
    st.builds(made.EndedEarly, difference=of(choices.Difference)),
    st.builds(made.Closed, by=st.just(AMARA)),
    st.builds(made.Skipped, step=of([step for step in Step if step not in {Step.CYCLES, Step.ADVICE, Step.CLOSE}])),
    st.builds(made.Undo, seq=st.integers(0, 40)),
    st.builds(
        made.WrittenLater,
        seen_by=st.just(JONAS),
        written_by=st.just(AMARA),
        seen_at=st.just(at(0)),
        written_at=st.just(at(60)),
    ),
)
PLANS = st.builds(
    replace,
    st.just(PLAN),
    light=of(choices.LightKind),
    arches=of(choices.Arches),
    teeth=of([(), PLAN.teeth]),
    resin_barrier=st.booleans(),
    mix_life_minutes=of([None, 5, 20]),
    cycles_planned=st.integers(3, 6),
    cycles_most=st.integers(2, 6),
    cycles_agreed=st.integers(1, 6),
    contact_minutes_most=of([20, 45, 90]),
    against=st.sampled_from([(), ("Consent was withdrawn",)]),
    batch=of([None, BATCH, replace(BATCH, usable=False)]),
    held_batches=of([frozenset(), frozenset({7})]),
    clinician=of([None, AMARA]),
    assistant=of([None, JONAS, AMARA]),
)


def contact_starts(state: SessionState) -> dict[object, datetime]:
    return {clock.arch: clock.started_at for clock in state.clocks if clock.kind is ClockKind.GEL}


class AnySession(RuleBasedStateMachine):
    """`gel_since` is a plain second account of when gel really was on, kept beside the fold."""

    def __init__(self) -> None:
        super().__init__()
        self.case = Case()

    @initialize(plan=PLANS, start=of(["empty", "ready", "with gel", "finished"]))
    def begin(self, plan: SessionPlan, start: str) -> None:
        makers: dict[str, Callable[[SessionPlan], Case]] = {
            "empty": Case,
            "ready": ready,
            "with gel": with_gel,
            "finished": finished,
        }
        self.case = makers[start](plan)

    @rule(payload=PAYLOADS, seconds=st.integers(-30, 1200))
    def anything(self, payload: Payload, seconds: int) -> None:
        before, at = self.case.state, self.case.now
        self.case.write(payload, after=seconds)
        if isinstance(payload, made.Undo):
            self.not_shorter(before, at)

    @rule(choice=st.randoms(use_true_random=False), seconds=of([0, 5, 60]))
    def what_is_offered(self, choice: Random, seconds: int) -> None:
        self.case.seconds += seconds
        state = self.case.state
        offers = [offer for offer in (*state.offers, *state.also) if offer.payloads]
        if offers:
            self.take(choice.choice(offers))

    def take(self, offer: Offer) -> None:
        known = len(self.case.state.past_limit)
        self.case.tap(offer)
        if {payload.kind for payload in offer.payloads} & MORE_GEL:
            assert len(self.case.state.past_limit) == known, "offered past a limit"

    @precondition(lambda self: self.case.state.undo is not None)
    @rule(seconds=st.integers(0, 120))
    def take_back(self, seconds: int) -> None:
        self.case.seconds += seconds
        before, at = self.case.state, self.case.now
        self.case.undo()
        self.not_shorter(before, at)

    def not_shorter(self, before: SessionState, at: datetime) -> None:
        """An undo neither stops a gel clock nor moves its start to later, nor makes the contact shorter."""
        # A device whose clock is behind writes an earlier moment: both are looked at no earlier than `before` was.
        after = fold(self.case.events, self.case.plan, max(at, self.case.now))
        assert after.contact_seconds >= before.contact_seconds
        old, new = contact_starts(before), contact_starts(after)
        assert all(arch in new and new[arch] <= start for arch, start in old.items())

    @invariant()
    def the_same_log_gives_the_same_state(self) -> None:
        case = self.case
        copies = [replace(event, payload=from_data(event.kind, to_data(event.payload))) for event in case.events]
        assert fold(copies, case.plan, case.now) == case.state
        late = [replace(event, recorded_at=event.recorded_at + timedelta(hours=2)) for event in case.events]
        assert fold(late, case.plan, case.now) == case.state
        twice = [replace(event, seq=event.seq + len(late)) for event in case.events]
        assert fold([*late, *twice], case.plan, case.now) == case.state

    @invariant()
    def gel_on_teeth_keeps_the_session_open(self) -> None:
        state = self.case.state
        kinds = {payload.kind for offer in state.offers for payload in offer.payloads}
        if state.gel_on:
            assert not state.can_close
            assert Kind.CLOSED not in kinds
            ways_off = {payload.kind for offer in (*state.offers, *state.also) for payload in offer.payloads}
            assert Kind.GEL_OFF in ways_off
        if Kind.CLOSED in kinds:
            assert state.can_close

    @invariant()
    def nothing_beyond_what_was_agreed_is_offered(self) -> None:
        state = self.case.state
        kinds = {payload.kind for offer in (*state.offers, *state.also) for payload in offer.payloads}
        if len(state.cycles) >= self.case.plan.cycles_agreed:
            assert not kinds & {Kind.GEL_ON, Kind.MIX_STARTED}

    @invariant()
    def the_screen_always_leads_on(self) -> None:
        state = self.case.state
        if state.closed_at is None:
            assert state.step is not None
            assert state.offers or state.next_at or state.missing
        assert all(offer.payloads or offer.ask is not Ask.NOTHING for offer in (*state.offers, *state.also))

    @invariant()
    def a_contact_stays_until_settled(self) -> None:
        state = self.case.state
        entered = [event.seq for event in self.case.events if event.kind is Kind.CONTACT]
        assert [contact.seq for contact in state.contacts] == entered
        if state.open_contacts and state.closed_at is None:
            assert not state.can_close
            offered = {payload.kind for offer in (*state.offers, *state.also) for payload in offer.payloads}
            assert not offered & {Kind.GEL_ON, Kind.MIX_STARTED}
            assert state.settle_offers

    def taken_back(self) -> set[int]:
        """What an undo named that was there already, and as long as the session was open."""
        state = self.case.state
        closings = [event for event in self.case.events if event.kind is Kind.CLOSED]
        last = next((event.seq for event in closings if event.happened_at == state.closed_at), len(self.case.events))
        undos = [event for event in self.case.events if event.seq <= last]
        named = {event.seq: event.payload.seq for event in undos if isinstance(event.payload, made.Undo)}
        return {seq for own, seq in named.items() if seq < own}

    @invariant()
    def contact_is_never_less_than_it_was(self) -> None:
        """Measured again from the raw log, arch by arch, believing every gel off that stands."""
        gone = self.taken_back()
        most = 0.0
        for arch in choices.Arch:
            since, seconds = None, 0.0
            for event in self.case.events:
                payload = event.payload
                if isinstance(payload, made.GelOn) and arch in payload.arches.each and event.seq not in gone:
                    since = since or event.happened_at
                elif (
                    isinstance(payload, made.GelOff) and arch in payload.arches.each and since and event.seq not in gone
                ):
                    seconds += max(0.0, (event.happened_at - since).total_seconds())
                    since = None
            if since:
                seconds += max(0.0, (self.case.now - since).total_seconds())
            most = max(most, seconds)
        assert self.case.state.contact_seconds >= int(most)


AnySession.TestCase.settings = settings(
    max_examples=40,
    stateful_step_count=30,
    deadline=None,
    suppress_health_check=list(HealthCheck),
    # A failing session is short enough to read; shrinking one takes minutes.
    phases=[Phase.explicit, Phase.reuse, Phase.generate],
    report_multiple_bugs=False,
)
TestAnySession = AnySession.TestCase
