"""The steps before and after the gel, the light's way along the teeth, leaving out, closing."""

from dataclasses import replace

import pytest

from tests.whitening.chairside.protocol_cases import AMARA, JONAS, PLAN, Log, at, finished, over, ready, with_gel
from whitening.chairside.protocol import payloads as made
from whitening.chairside.protocol.choices import Arches, Choice, Difference, LightKind, Place
from whitening.chairside.protocol.kinds import Kind, Phase, Step
from whitening.chairside.protocol.limits import DEFAULTS, SessionPlan, default
from whitening.chairside.protocol.marks import Beyond, Missing
from whitening.chairside.protocol.path import path
from whitening.chairside.protocol.state import Ask, Moment, Standing
from whitening.chairside.protocol.tally import tally


def place_at(log: Log, seconds: float) -> str | None:
    light = log.at(log.seconds + seconds).light
    return None if light is None else light.place


def test_the_light_moves_from_tooth_to_tooth_by_its_clock() -> None:
    log = with_gel().write(made.LightOn(light_unit=3))
    assert [place_at(log, seconds) for seconds in (0, 9, 10, 55, 99, 100)] == ["15", "15", "14", "21", "25", None]
    light = log.state.light
    assert light is not None
    assert light.ends_at == at(log.seconds + 100)
    assert light.next_at == at(log.seconds + 10)
    assert log.state.cycles[0].lit


def test_the_light_is_set_to_a_tooth_by_hand() -> None:
    log = with_gel().write(made.LightOn()).write(made.LightMoved(tooth="12"), after=5)
    assert [place_at(log, seconds) for seconds in (0, 10, 69, 70)] == ["12", "11", "25", None]
    log.write(made.LightMoved(tooth="47"))
    assert place_at(log, 0) == "12"
    moves = [offer.payloads[0] for offer in log.state.also if offer.payloads[0].kind is Kind.LIGHT_MOVED]
    assert moves == [made.LightMoved(tooth="13"), made.LightMoved(tooth="11")]
    log.write(made.LightOff())
    assert log.state.light is None
    assert log.write(made.LightMoved(tooth="11")).state.light is None
    assert Log().write(made.LightMoved(tooth="11")).write(made.LightOff()).state.light is None


def test_an_arch_light_goes_arch_by_arch() -> None:
    log = with_gel(replace(PLAN, light=LightKind.ARCH)).write(made.LightOn())
    assert [place_at(log, seconds) for seconds in (0, 299, 300, 600)] == ["upper", "upper", "lower", None]
    assert [offer for offer in log.state.also if offer.payloads[0].kind is Kind.LIGHT_MOVED] == []


def test_a_light_nobody_planned_shines_until_it_is_off() -> None:
    log = with_gel(replace(PLAN, light=LightKind.NONE)).write(made.LightOn())
    assert log.marks() == [Beyond.LIGHT_UNPLANNED]
    assert place_at(log, 9000) == ""
    assert log.write(made.LightOff()).state.light is None
    untoothed = with_gel(replace(PLAN, teeth=())).write(made.LightOn())
    assert place_at(untoothed, 9000) == ""


def test_without_known_people_the_form_comes_first() -> None:
    for plan in (SessionPlan(), replace(PLAN, assistant=AMARA), replace(PLAN, assistant=None)):
        assert [offer.ask for offer in Log(plan).state.offers] == [Ask.PEOPLE]
    log = Log(SessionPlan()).write(made.Skipped(step=Step.PEOPLE))
    assert log.stands_at(Step.REASK)
    # Never one tap: each item of the list is shown first.
    assert [(offer.ask, offer.payloads) for offer in log.state.offers] == [(Ask.REASK, ())]


def test_the_second_inspector_is_chosen_where_only_one_is_known() -> None:
    log = ready(replace(PLAN, clinician=None)).undo()
    assert [offer.ask for offer in log.state.offers] == [Ask.NOTHING, Ask.INSPECTION]
    log = Log(SessionPlan())
    for step in (Step.PEOPLE, Step.REASK, Step.STOP_SIGNAL, Step.SPLASH_GLASSES, Step.POLISH, Step.OPENER):
        log.write(made.Skipped(step=step))
    for step in (Step.START_SHADE, Step.START_PHOTOS, Step.ISOLATION, Step.EYEWEAR, Step.BARRIER):
        log.write(made.Skipped(step=step))
    assert log.stands_at(Step.INSPECTION)
    assert [offer.ask for offer in log.state.offers] == [Ask.INSPECTION]


def test_the_barrier_in_two_taps() -> None:
    log = ready().undo().undo()
    assert log.stands_at(Step.BARRIER)
    log.tap(log.state.offers[1])
    assert log.stands_at(Step.BARRIER)
    assert [offer.payloads[0].kind for offer in log.state.offers] == [Kind.CURED]
    log.tap(log.state.offers[0])
    assert log.stands_at(Step.INSPECTION)
    cured_first = Log().write(made.Cured(seconds_per_area=20))
    assert Phase.PROTECT not in {point.phase for point in cured_first.state.path if point.standing is Standing.DONE}


def test_isolation_without_resin_needs_no_curing() -> None:
    log = Log(replace(PLAN, resin_barrier=False)).write(made.Reask(asked_by=JONAS))
    while log.state.step is not Step.BARRIER:
        log.tap(log.state.offers[0])
    log.tap(log.state.offers[0])
    assert log.stands_at(Step.INSPECTION)


def test_pieces_that_differ_need_words() -> None:
    log = finished().undo().undo().undo().undo().undo()
    log.write(made.BarrierOff(pieces_out=1))
    assert log.marks() == [Beyond.PIECES_DIFFER]
    assert log.write(made.Barrier(pieces=2)).state.step is Step.BARRIER_OFF
    nothing_in = Log().write(made.BarrierOff(pieces_out=0))
    assert nothing_in.state.past_limit == ()


def test_barrier_off_and_eyewear_off_in_one_tap_or_two() -> None:
    log = over()
    kinds = [[payload.kind for payload in offer.payloads] for offer in log.state.offers]
    assert kinds == [[Kind.BARRIER_OFF, Kind.EYEWEAR_OFF], [Kind.BARRIER_OFF], []]
    log.tap(log.state.offers[1])
    assert log.stands_at(Step.EYEWEAR_OFF)
    first = over().write(made.EyewearOff())
    assert [[payload.kind for payload in offer.payloads] for offer in first.state.offers] == [[Kind.BARRIER_OFF], []]
    assert first.write(made.Eyewear()).state.offers[0].payloads[-1] == made.EyewearOff()


def test_a_safety_step_left_out_needs_words_and_offers_no_gel() -> None:
    log = ready().undo()
    log.tap(log.state.also[0])
    assert log.marks() == [Beyond.SAFETY_SKIPPED]
    assert log.state.moment is Moment.MIX
    assert log.state.offers[0].payloads == (made.Decided(choice=Choice.STOP_HERE),)


def test_another_step_left_out_needs_no_words() -> None:
    log = Log()
    log.tap(log.state.offers[0]).tap(log.state.also[0])
    assert log.stands_at(Step.STOP_SIGNAL)
    assert not log.state.past_limit


def test_a_patient_who_leaves_before_any_gel() -> None:
    log = Log()
    log.tap(log.state.offers[0])
    log.tap(log.state.also[-1])
    state = log.state
    assert state.ended_early
    # Both arches are as they came: what to do about their difference is no question.
    assert state.step is Step.ADVICE
    while log.state.step is not Step.CLOSE:
        log.tap(log.state.offers[0])
    assert log.state.can_close
    assert [point.phase for point in log.state.path if point.phase is Phase.CYCLES] == []


def test_a_patient_who_leaves_after_the_first_gel() -> None:
    log = with_gel().write(made.GelOff(), after=500).write(made.Decided(choice=Choice.STOP_HERE))
    assert log.state.ended_early
    while log.state.step is not Step.ENDED_EARLY:
        log.tap(log.state.offers[0])
    assert len(log.state.offers) == len(Difference)


def test_ended_early_recorded_before_the_decision_ends_it() -> None:
    log = with_gel().write(made.GelOff(), after=500).write(made.EndedEarly(difference=Difference.LEFT))
    assert log.state.over
    assert log.state.ended_early


def test_advice_and_next_steps_one_by_one() -> None:
    log = finished().undo()
    log.tap(log.state.offers[1])
    assert log.stands_at(Step.NEXT_STEPS)
    log.tap(log.state.offers[1])
    assert log.stands_at(Step.CLOSE)
    other_way = finished().undo().write(made.NextStepsAgreed())
    assert [offer.payloads for offer in other_way.state.offers] == [(made.Advice(),)]


def test_one_arch_has_one_piece() -> None:
    log = ready(replace(PLAN, arches=Arches.UPPER))
    assert log.stands_at(Step.CYCLES)
    log.undo().undo()
    assert log.state.offers[0].payloads[0] == made.Barrier(pieces=1)


@pytest.mark.parametrize(
    ("payload", "missing"),
    [
        (made.GelOn(cycle=5, mix=4), Missing.GEL_IS_ON),
        (made.TakeOffNow(), Missing.EMERGENCY_OPEN),
        (made.Contact(place=Place.SKIN), Missing.CONTACT_OPEN),
        (made.Barrier(pieces=1), Missing.BARRIER_IN),
        (made.Decided(choice=Choice.ONE_MORE), Missing.NOT_OVER),
        (made.LightOn(), Missing.WORDS),
    ],
)
def test_what_keeps_a_session_open(payload: made.Payload, missing: Missing) -> None:
    log = finished()
    assert log.state.missing == ()
    log.write(payload)
    assert missing in log.state.missing
    assert not log.state.can_close
    if log.state.step is Step.CLOSE and missing is not Missing.WORDS:
        assert log.state.offers == ()
    # A closing that was written all the same does not close.
    assert log.write(made.Closed(by=AMARA)).state.closed_at is None


def test_steps_before_the_gel_that_nobody_wrote_down() -> None:
    log = Log().write(made.MixStarted(batch=7)).write(made.GelOn(cycle=1, mix=1)).write(made.GelOff(), after=500)
    log.write(made.Decided(choice=Choice.STOP_HERE))
    assert Missing.WORDS in log.state.missing
    assert log.write(made.Words(words="Written on paper.")).state.missing == (Missing.STEPS, Missing.MIX_OPEN)


def test_the_words_are_asked_at_the_end() -> None:
    log = finished().write(made.LightOn())
    assert [offer.ask for offer in log.state.offers] == [Ask.WORDS]
    log.write(made.Words(words="Tried the light on the tray."))
    log.tap(log.state.offers[0])
    assert log.state.closed_by == AMARA.name


def test_a_mix_of_which_nothing_is_known_keeps_the_session_open() -> None:
    log = finished()
    for seq in [event.seq for event in log.events if event.kind is Kind.MIX_DISCARDED][1:]:
        log.write(made.Undo(seq=seq))
    assert (log.state.step, log.state.missing) == (Step.CLOSE, (Missing.MIX_OPEN,))
    labels = [str(offer.label) for offer in log.state.offers]
    assert labels[:3] == ["All 3 mixes discarded", "Mix 2 discarded", "Mix 2 used up"]
    # A closing that was written all the same does not close.
    assert log.write(made.Closed(by=AMARA)).state.closed_at is None
    log.tap(log.state.offers[2])
    log.tap(log.state.offers[1])
    assert [str(offer.label) for offer in log.state.offers] == ["Mix 4 discarded", "Mix 4 used up"]
    log.tap(log.state.offers[0])
    assert log.state.can_close


def test_several_mixes_are_discarded_in_one_tap() -> None:
    log = finished()
    for seq in [event.seq for event in log.events if event.kind is Kind.MIX_DISCARDED]:
        log.write(made.Undo(seq=seq))
    log.tap(log.state.offers[0])
    assert log.state.can_close
    assert log.events[-1].payload == made.MixDiscarded(mix=4)


def test_nobody_named_people_are_asked_before_closing() -> None:
    plan = replace(PLAN, clinician=None)
    log = finished(plan)
    log.events = [event for event in log.events if event.kind is not Kind.PEOPLE]
    log.write(made.Words(words="The people stand on the paper."))
    assert log.stands_at(Step.CLOSE)
    assert [offer.ask for offer in log.state.offers] == [Ask.PEOPLE]


def test_what_comes_after_closing() -> None:
    log = finished().write(made.Closed(by=AMARA))
    state = log.state
    assert state.closed_at == log.now
    assert (state.step, state.offers, state.also, state.undo) == (None, (), (), None)
    log.write(made.WrittenLater(seen_by=JONAS, written_by=AMARA, seen_at=at(0), written_at=at(60)))
    assert not log.state.past_limit
    log.write(made.Undo(seq=1)).write(made.Closed(by=AMARA))
    assert log.state.closed_at == state.closed_at
    assert log.state.people is not None
    log.write(made.GelOn(cycle=5, mix=4))
    assert log.state.gel_on
    assert log.stands_at(Step.CYCLES)
    assert Beyond.AFTER_CLOSING in log.marks()


def test_the_path_shows_what_was_left_out() -> None:
    log = over()
    log.write(made.Skipped(step=Step.FINAL_SHADE)).write(made.Skipped(step=Step.FINISH_PHOTOS))
    log.write(made.BarrierOff(pieces_out=2), made.EyewearOff())
    standings = {point.phase: point.standing for point in log.state.path}
    assert standings[Phase.RESULT] is Standing.LEFT_OUT
    assert standings[Phase.GOODBYE] is Standing.CURRENT
    assert standings[Phase.CLOSE] is Standing.AHEAD


def test_the_path_before_and_past_the_planned_cycles() -> None:
    start = Log().state.path
    assert [point.cycle for point in start if point.phase is Phase.CYCLES] == [1, 2, 3, 4]
    assert {point.standing for point in start} == {Standing.CURRENT, Standing.AHEAD}
    log = with_gel(replace(PLAN, cycles_planned=1)).write(made.GelOff(), after=500)
    log.write(made.Sensitivity(score=0)).write(made.Decided(choice=Choice.ONE_MORE))
    points = [(point.cycle, point.standing) for point in log.state.path if point.phase is Phase.CYCLES]
    assert points == [(1, Standing.DONE), (2, Standing.CURRENT)]


def test_nothing_is_left_out_of_a_path_passed_without_entries() -> None:
    facts = tally([], gone=frozenset(), plan=PLAN, closing=None)
    assert path(facts, None)[0].standing is Standing.LEFT_OUT


def test_sensitivity_before_any_cycle_is_kept_nowhere() -> None:
    assert Log().write(made.Sensitivity(score=3)).state.cycles == ()


def test_every_default_names_its_source() -> None:
    assert all(sourced.source for sourced in DEFAULTS.values())
    plan = SessionPlan()
    assert plan.cycles_planned == default("cycles_planned") == 3
    assert plan.minutes_most == 15


def test_a_step_for_this_patient_is_done_once_and_can_be_taken_back() -> None:
    """Beside the steps of everybody: it neither leads on nor holds anything back."""
    log = ready().write(made.CareTaken(finding="SEN-01", step="Look closely."), after=5)
    first = log.now
    log.write(made.CareTaken(finding="SEN-01", step="Look closely."), after=5)
    assert [(each.finding, each.at, each.by) for each in log.state.care] == [("SEN-01", first, JONAS.name)]
    assert log.state.step is ready().state.step
    log.undo().undo()
    assert log.state.care == ()
