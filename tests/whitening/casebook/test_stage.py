"""The stage of a case, from facts alone; and until when it waits. Pure."""

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from whitening.casebook.rules import pencilled_until
from whitening.casebook.stage import LABELS, Stage, StageFacts, stage, waiting_until

TODAY = date(2026, 3, 3)
LONDON = ZoneInfo("Europe/London")
ORDER = list(Stage)


@pytest.mark.parametrize(
    ("facts", "expected"),
    [
        (StageFacts(), Stage.ENQUIRY),
        (StageFacts(has_answers=True), Stage.QUESTIONS),
        (StageFacts(has_examination=True), Stage.EXAMINED),
        (StageFacts(has_answers=True, has_examination=True), Stage.EXAMINED),
        (StageFacts(has_answers=True, has_examination=True, agreed=True, sessions_planned=2), Stage.AGREED),
        (StageFacts(agreed=True, sessions_planned=2, sessions_opened=1), Stage.TREATING),
        (StageFacts(agreed=True, sessions_planned=2, sessions_opened=1, sessions_closed=1), Stage.TREATING),
        (StageFacts(agreed=True, sessions_planned=2, sessions_opened=2, sessions_closed=1), Stage.TREATING),
        (StageFacts(agreed=True, sessions_planned=2, sessions_opened=2, sessions_closed=2), Stage.FOLLOWING_UP),
        # Withdrawn before the first session: back to examined. After one: what was done was done.
        (StageFacts(has_answers=True, has_examination=True, sessions_planned=2), Stage.EXAMINED),
        (StageFacts(has_examination=True, sessions_planned=2, sessions_opened=1, sessions_closed=1), Stage.TREATING),
        (StageFacts(closed=True, sessions_planned=1, sessions_opened=1, sessions_closed=1), Stage.CLOSED),
        (StageFacts(closed=True), Stage.CLOSED),
    ],
)
def test_the_furthest_point_that_the_facts_prove(facts: StageFacts, expected: Stage) -> None:
    assert stage(facts) is expected
    assert str(expected.label) == expected.value.replace("_", " ")


@given(st.booleans(), st.booleans(), st.booleans(), st.integers(1, 3), st.integers(0, 3), st.integers(0, 3))
def test_more_facts_never_take_a_case_back(
    answers: bool, examined: bool, agreed: bool, planned: int, opened: int, more: int
) -> None:
    before = StageFacts(False, answers, examined, agreed, planned, opened, 0)
    after = StageFacts(False, True, examined, agreed, planned, opened + more, opened)
    assert ORDER.index(stage(after)) >= ORDER.index(stage(before))


def test_every_stage_has_its_word() -> None:
    assert set(LABELS) == set(Stage)


@pytest.mark.parametrize(
    ("deferred", "not_before", "expected"),
    [
        (None, None, None),
        (date(2026, 3, 10), None, date(2026, 3, 10)),
        (None, date(2026, 3, 10), date(2026, 3, 10)),
        (date(2026, 3, 9), date(2026, 3, 10), date(2026, 3, 10)),
        (date(2026, 3, 12), date(2026, 3, 10), date(2026, 3, 12)),
        (TODAY, None, None),
        (date(2026, 3, 2), date(2026, 3, 1), None),
    ],
)
def test_it_waits_for_the_later_day_while_that_lies_ahead(
    deferred: date | None, not_before: date | None, expected: date | None
) -> None:
    assert waiting_until(deferred_until=deferred, not_before=not_before, today=TODAY) == expected


NOW = datetime(2026, 3, 3, 9, 0, tzinfo=UTC)


@pytest.mark.parametrize(
    ("session", "consultation", "until"),
    [
        # Two days to think after the consultation, until the evening.
        ("2026-03-20 10:00", "2026-03-10 10:35", "2026-03-12 18:00"),
        # Without one: a week from the call.
        ("2026-03-20 10:00", None, "2026-03-10 18:00"),
        # Never later than a day before the session itself.
        ("2026-03-12 10:00", "2026-03-10 10:35", "2026-03-11 10:00"),
        # Tomorrow's session is held for an hour, so that the call can be finished.
        ("2026-03-04 08:30", None, "2026-03-03 10:00"),
        # Summer time begins on 29 March: six in the evening stays six in the evening.
        ("2026-04-10 10:00", "2026-03-28 10:00", "2026-03-30 18:00"),
    ],
)
def test_a_pencilled_time_is_held_until(session: str, consultation: str | None, until: str) -> None:
    held_until = pencilled_until(
        now=NOW,
        session_starts_at=datetime.fromisoformat(session).replace(tzinfo=LONDON),
        consultation_ends_at=datetime.fromisoformat(consultation).replace(tzinfo=LONDON) if consultation else None,
        zone=LONDON,
    )
    assert f"{held_until.astimezone(LONDON):%Y-%m-%d %H:%M}" == until


@given(st.integers(1, 60 * 24 * 90), st.one_of(st.none(), st.integers(1, 60 * 24 * 90)))
def test_it_is_held_for_an_hour_at_least_and_lapses_before_the_session(ahead: int, talk: int | None) -> None:
    session_at = NOW + timedelta(minutes=ahead)
    talk_at = NOW + timedelta(minutes=talk) if talk else None
    until = pencilled_until(now=NOW, session_starts_at=session_at, consultation_ends_at=talk_at, zone=LONDON)
    assert until >= NOW + timedelta(hours=1)
    assert until <= max(session_at - timedelta(hours=24), NOW + timedelta(hours=1))
