"""One sweep, from what is due to what became of it."""

from collections.abc import Callable
from datetime import datetime, timedelta
from itertools import count
from types import SimpleNamespace

import pytest
from django.core import mail
from django.db import connection

from clinic.messages import claims
from clinic.messages.channels.parcel import Fate, Handed
from clinic.messages.claims import begin, claim, expire, release
from clinic.messages.conditions import Drop, Send, Wait, judge
from clinic.messages.models import Call, DueMessage, State, Why
from clinic.messages.settling import drop, put_off, settle
from clinic.messages.sweep import hand_over_now, sweep, sweep_while_full
from clinic.trail.clock import real_now
from tests.cast import NOW, Cast
from tests.clinic.messages.writing import CHECK, REMINDER, Planned, Wishes, a_moment_ago, later, states, verbs
from tests.plans import asked
from tests.support import nothing_written


def test_it_works(planned: Planned) -> None:
    message = planned()
    sweep(now=NOW)
    message.refresh_from_db()
    assert (message.state, message.channel, message.sent_to) == (State.HANDED_OVER, "email", "amara@example.org")
    assert message.handed_over_at == NOW
    [sent] = mail.outbox
    assert (sent.to, sent.subject) == (["amara@example.org"], "Fernbrook: Tuesday")
    assert sent.from_email == "Fernbrook Dental Rooms <casebook@localhost>"
    assert sent.extra_headers["Message-ID"] == message.message_id
    assert verbs() == ["messages.planned", "messages.handed_over"]


def test_not_before_it_is_due(planned: Planned) -> None:
    planned(due_at=later(hours=1))
    with nothing_written():
        sweep(now=NOW)
    assert states() == [State.PLANNED]
    sweep(now=later(hours=1))
    assert states() == [State.HANDED_OVER]


def test_it_goes_on_while_batches_are_full(planned: Planned) -> None:
    for step in range(5):
        planned(CHECK, step=step)
    assert sweep_while_full(now=NOW, limit=2).claimed == 5
    assert states() == [State.HANDED_OVER] * 5


def test_two_sweeps_share_what_is_left(planned: Planned, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(claims, "LEAST_SHARE", 2)
    for step in range(7):
        planned(CHECK, step=step)
    shares = [claims.share(now=NOW, real_now=real_now(), limit=limit) for limit in (100, 3, 2)]
    # SQLite takes one writer at a time, so there is one sweep.
    assert shares == ([3, 3, 2] if connection.vendor == "postgresql" else [100, 3, 2])
    assert claims.share(now=later(days=-1), real_now=real_now(), limit=100) == (
        2 if connection.vendor == "postgresql" else 100
    )
    assert sweep_while_full(now=NOW, limit=4).claimed == 7
    assert states() == [State.HANDED_OVER] * 7


def test_nothing_goes_out_late_because_a_sweep_began_in_time(planned: Planned, monkeypatch: pytest.MonkeyPatch) -> None:
    for step in range(2):
        planned(CHECK, step=step, not_after=later(minutes=1))
    # Whoever looks finds that forty seconds have gone by.
    slow = SimpleNamespace(monotonic=count(0, 40).__next__)
    monkeypatch.setattr("clinic.messages.sweep.time", slow)
    sweep_while_full(now=NOW, limit=1, seconds=1_000)
    assert states() == [State.HANDED_OVER, State.MISSED]


def test_it_goes_on_no_longer_than_it_may(planned: Planned) -> None:
    planned()
    with nothing_written():
        assert sweep_while_full(now=NOW, seconds=0).claimed == 0
    assert states() == [State.DUE]


def test_a_mistake_in_a_wording_stops_only_its_own_message(
    planned: Planned, wishes: Wishes, monkeypatch: pytest.MonkeyPatch
) -> None:
    planned(CHECK)
    planned()
    # The reminder's subject is no string: composing works, looking it over does not.
    monkeypatch.setattr(wishes, "window", "no window")
    sweep(now=NOW)
    assert states() == [State.FAILED, State.HANDED_OVER]
    assert Call.objects.get().why == Why.FAILED


def test_a_claim_that_ran_out_is_due_again(planned: Planned) -> None:
    message = planned()
    claim(now=NOW, real_now=real_now(), limit=1)
    assert sweep(now=NOW).claimed == 0
    DueMessage.objects.update(lease_until=a_moment_ago())
    sweep(now=NOW)
    message.refresh_from_db()
    assert (message.state, message.attempt) == (State.HANDED_OVER, 2)


def test_released_rows_are_free_at_once_and_were_not_tried(planned: Planned) -> None:
    """Behind a slow server most of them go back minute after minute: their first failure waits one minute, not 30."""
    message = planned()
    for _minute in range(3):
        release(claim(now=NOW, real_now=real_now(), limit=1))
    assert sweep(now=NOW).states == {State.HANDED_OVER: 1}
    message.refresh_from_db()
    assert message.attempt == 1


def test_whoever_released_a_row_does_not_begin_it(planned: Planned) -> None:
    planned()
    [late] = claim(now=NOW, real_now=real_now(), limit=1)
    release([late])
    with nothing_written():
        assert not begin(late, message_id="<1@example.org>", real_now=real_now())


def test_a_hand_over_that_ran_out_is_sent_once_more_at_most(planned: Planned) -> None:
    message = planned()
    for expected in (State.DUE, State.UNCERTAIN):
        [held] = claim(now=NOW, real_now=real_now(), limit=1)
        assert begin(held, message_id="<x@y>", real_now=real_now())
        DueMessage.objects.update(lease_until=a_moment_ago())
        expire(now=NOW, real_now=real_now())
        message.refresh_from_db()
        assert message.state == expected
    assert message.times_uncertain == 2
    assert sweep(now=NOW).claimed == 0


def test_uncertain_with_a_link_is_never_sent_again_by_itself(planned: Planned) -> None:
    message = planned(CHECK)
    [held] = claim(now=NOW, real_now=real_now(), limit=1)
    begin(held, message_id="<x@y>", real_now=real_now())
    DueMessage.objects.update(lease_until=a_moment_ago())
    sweep(now=NOW)
    message.refresh_from_db()
    assert message.state == State.UNCERTAIN
    assert mail.outbox == []


def test_one_message_at_once(planned: Planned) -> None:
    waited_for, other = planned(CHECK), planned()
    hand_over_now(waited_for.pk, now=NOW)
    hand_over_now(waited_for.pk, now=NOW)
    other.refresh_from_db()
    assert (len(mail.outbox), other.state) == (1, State.DUE)


def test_the_tick_costs_nothing_when_nothing_is_due(planned: Planned, django_assert_max_num_queries: Callable) -> None:  # type: ignore[type-arg]
    planned(due_at=NOW + timedelta(days=1))
    with nothing_written(), django_assert_max_num_queries(1):
        sweep(now=NOW)


def test_who_comes_back_late_knows_what_happened(planned: Planned) -> None:
    message = planned(CHECK)
    verdict, held = begun(message)
    DueMessage.objects.update(lease_until=a_moment_ago())
    expire(now=NOW, real_now=real_now())
    assert states() == [State.UNCERTAIN]
    taken = Handed(fate=Fate.TAKEN)
    assert settle(held, verdict, taken, link=None, now=NOW, real_now=real_now()) == State.HANDED_OVER
    assert states() == [State.HANDED_OVER]


def test_who_comes_back_after_another_attempt_changes_nothing(planned: Planned) -> None:
    message = planned()
    verdict, held = begun(message)
    DueMessage.objects.update(lease_until=a_moment_ago())
    expire(now=NOW, real_now=real_now())
    [second] = claim(now=NOW, real_now=real_now(), limit=1)
    assert begin(second, message_id="<x@y>", real_now=real_now())
    with nothing_written():
        for fate in Fate:
            handed = Handed(fate=fate, reason="late")
            assert settle(held, verdict, handed, link=None, now=NOW, real_now=real_now()) is None
        assert drop(held, Drop(state=State.MISSED, reason="late"), now=NOW) is None
        assert put_off(held, Wait(reason="late"), real_now=real_now()) is None
    assert states() == [State.HANDING_OVER]


def test_a_batch_reads_its_own_rows_and_not_all_that_are_due(cast: Cast) -> None:
    DueMessage.objects.bulk_create(waiting(cast, number, due_at=later(seconds=-number)) for number in range(3_000))
    analyse()
    with asked() as kept:
        rows = claim(now=NOW, real_now=real_now(), limit=10)
    assert [row.subject_id for row in rows] == list(range(2_999, 2_989, -1))
    assert len(kept.statements) == 2
    assert kept.sorting() == []
    assert kept.read_through(["due_message"]) == []


def test_a_tick_reads_no_message_that_is_not_due(cast: Cast) -> None:
    DueMessage.objects.bulk_create(waiting(cast, number, due_at=later(hours=number + 1)) for number in range(3_000))
    analyse()
    with asked() as kept:
        sweep(now=NOW)
    assert len(kept.statements) == 1
    assert kept.read_through(["due_message"]) == []
    assert kept.walks() == {"due_message_open", "due_message_leased"}


def waiting(cast: Cast, number: int, *, due_at: datetime) -> DueMessage:
    return DueMessage(
        site=cast.fernbrook,
        patient=cast.patient,
        subject_kind="visit",
        subject_id=number,
        kind=REMINDER,
        due_at=due_at,
        not_after=due_at + timedelta(days=1),
        planned_at=NOW,
    )


def analyse() -> None:
    with connection.cursor() as cursor:
        cursor.execute("ANALYZE due_message")


def begun(message: DueMessage) -> tuple[Send, DueMessage]:
    """A sweeper in the middle of its work: claimed, begun, conditions read."""
    [held] = claim(now=NOW, real_now=real_now(), limit=1)
    assert begin(held, message_id="<x@y>", real_now=real_now())
    verdict = judge(message, now=NOW)
    assert isinstance(verdict, Send)
    return verdict, DueMessage.objects.get(pk=held.pk)
