"""The judge of the storm notices each thing that must not be, and the storm itself is as large as it says."""

import random
import smtplib
from collections.abc import Iterator
from dataclasses import replace
from email.message import EmailMessage

import pytest

from scripts.chaos import mail, storm
from scripts.chaos.comparing import Row, judge
from scripts.chaos.size import sizes

SENT = Row(
    pk=1,
    message_id="<one@example.org>",
    state="handed_over",
    may_go_twice=True,
    not_after=1_000.0,
    settled=10.0,
    is_listed=False,
)
ONCE = {SENT.message_id: [10.0]}


def broken(row: Row, arrivals: dict[str, list[float]], *, kills: int = 0, breaks: int = 0) -> set[str]:
    return {rule.name for rule in judge([row], arrivals, kills=kills, breaks=breaks) if not rule.holds}


def test_what_was_sent_once_breaks_no_rule() -> None:
    assert broken(SENT, ONCE) == set()


@pytest.mark.parametrize("state", ["planned", "due", "claimed", "handing_over"])
def test_a_row_that_still_waits_is_lost(state: str) -> None:
    assert broken(replace(SENT, state=state, settled=None), {}) == {"neither sent nor shown"}


@pytest.mark.parametrize("state", ["failed", "missed", "bounced"])
def test_what_was_not_sent_stands_on_a_list(state: str) -> None:
    row = replace(SENT, state=state, settled=2_000.0)
    assert broken(row, {}) == {"neither sent nor shown"}
    assert broken(replace(row, is_listed=True), {}) == set()


def test_said_to_be_sent_and_never_received() -> None:
    assert broken(SENT, {}) == {"neither sent nor shown", "said to be sent and never received"}


def test_more_than_twice_is_too_often_whoever_fell() -> None:
    assert broken(SENT, {SENT.message_id: [1.0, 2.0, 3.0]}, kills=5) == {"received more than twice"}


def test_a_private_link_goes_out_once() -> None:
    twice = {SENT.message_id: [1.0, 2.0]}
    assert broken(replace(SENT, may_go_twice=False), twice, kills=1) == {"with a private link, received twice"}


def test_each_duplicate_and_each_uncertain_one_has_its_kill_or_break() -> None:
    twice = {SENT.message_id: [1.0, 2.0]}
    assert broken(SENT, twice) == {"duplicates and uncertain"}
    assert broken(SENT, twice, kills=1) == set()
    doubtful = replace(SENT, state="uncertain", is_listed=True)
    assert broken(doubtful, ONCE) == {"duplicates and uncertain"}
    assert broken(doubtful, ONCE, breaks=1) == set()


def test_an_uncertain_one_stands_on_the_list_even_if_it_arrived() -> None:
    found = broken(replace(SENT, state="uncertain"), ONCE, kills=1)
    assert found == {"neither sent nor shown", "uncertain and on nobody's list"}


def test_missed_only_once_the_time_is_over() -> None:
    early = replace(SENT, state="missed", settled=999.0, is_listed=True)
    assert broken(early, {}) == {"missed before its time was over"}
    assert broken(replace(early, settled=1_000.0), {}) == set()


def test_never_sent_late() -> None:
    assert broken(SENT, {SENT.message_id: [1_100.0]}) == {"sent after its time"}


def test_a_mail_that_no_row_knows() -> None:
    assert broken(SENT, ONCE | {"<stranger@example.org>": [5.0]}) == {"mails that no row knows"}


def test_the_whole_storm_kills_two_hundred_times_and_the_bounded_one_in_proportion() -> None:
    whole = sizes(seconds=600, engines=["postgres", "sqlite"])
    assert [(one.engine, one.rows) for one in whole] == [("postgres", 10_000), ("sqlite", 2_000)]
    assert sum(one.kills for one in whole) >= 210
    (bounded,) = sizes(seconds=60, engines=["postgres"])
    assert (bounded.rows, bounded.seconds, bounded.kills) == (1_000, 40, 10)


def test_the_same_seed_is_the_same_storm() -> None:
    (size,) = sizes(seconds=60, engines=["postgres"])
    first, again, other = (storm.times(size, random.Random(seed)) for seed in (1, 1, 2))  # noqa: S311
    assert first == again != other
    (embedded,) = sizes(seconds=60, engines=["sqlite"])
    assert {deed for _at, deed in storm.times(embedded, random.Random(1))}.isdisjoint(storm.SERVERS)  # noqa: S311


@pytest.fixture
def wild() -> Iterator[mail.WildServer]:
    server = mail.start(seed=1, silence_seconds=0.1)
    yield server
    server.stop()


def send(server: mail.WildServer) -> None:
    letter = EmailMessage()
    letter["From"], letter["To"], letter["Message-ID"] = "rooms@example.org", "amara@example.org", SENT.message_id
    letter.set_content("Tuesday at ten.")
    with smtplib.SMTP("127.0.0.1", server.controller.port, timeout=5) as line:
        line.send_message(letter)


@pytest.mark.parametrize(
    ("mood", "failure", "received"),
    [
        ("takes", None, 1),
        ("delays", None, 1),
        ("drops", smtplib.SMTPServerDisconnected, 0),
        ("refuses for now", smtplib.SMTPRecipientsRefused, 0),
        ("refuses for good", smtplib.SMTPRecipientsRefused, 0),
        ("breaks", smtplib.SMTPServerDisconnected, 1),
        ("swallows", smtplib.SMTPServerDisconnected, 0),
        ("says nothing", smtplib.SMTPServerDisconnected, 1),
    ],
)
def test_the_mail_server_does_what_its_dice_say(
    wild: mail.WildServer,
    monkeypatch: pytest.MonkeyPatch,
    mood: mail.Mood,
    failure: type[Exception] | None,
    received: int,
) -> None:
    monkeypatch.setattr(mail, "DICE", {mood: 1})
    if failure is None:
        send(wild)
    else:
        with pytest.raises(failure):
            send(wild)
    assert len(wild.mailbox.arrivals[SENT.message_id]) == received
    assert wild.mailbox.moods == {mood: 1}
    assert wild.mailbox.breaks == (mood in mail.AFTER_THE_DATA)
