"""What the patient reads after an answer: one thing to do, and nothing beside it that says otherwise."""

import re
from collections.abc import Iterable, Mapping
from dataclasses import replace
from datetime import UTC, datetime
from itertools import chain

import pytest
import time_machine
from django.core import signing
from django.test import Client
from django.urls import reverse
from django.utils.html import strip_tags

from clinic.patients.models import Patient
from tests.cast import Cast, actor_of, sign_in
from tests.clinic.messages.entering import known
from tests.whitening.recall import afterwards
from tests.whitening.recall.afterwards import WELL
from whitening.recall.actions import record_reply
from whitening.recall.advice import _REASONS, ToDo, reasons, to_do
from whitening.recall.models import Reply
from whitening.recall.triage import FUNCTIONS, Answers, triage
from whitening.recall.views.replying import SALT

YOU_CALL = re.compile(r"\b[Cc]all (us|our number|999)\b")
WE_CALL = re.compile(r"\b(we call|calls you|hear from us|somebody answers)\b", re.IGNORECASE)


def each(name: str, values: Iterable[object]) -> list[dict[str, object]]:
    return [{name: value} for value in values]


SINGLES: list[dict[str, object]] = [
    {},
    *each("sensitivity", range(1, 11)),
    {"falling": False, "sensitivity": 2},
    {"one_tooth": True, "sensitivity": 2},
    {"woke_at_night": True},
    {"gums": "white_fading"},
    {"gums": "raw"},
    {"swelling": True},
    {"eye": True},
    {"painkillers": "by_the_label"},
    {"painkillers": "more_or_still"},
    *each("satisfaction", range(1, 6)),
    {"call_me": True},
]
PAIRS: list[dict[str, object]] = [
    {"sensitivity": 8, "satisfaction": 1},
    {"sensitivity": 5, "call_me": True},
    {"sensitivity": 5, "woke_at_night": True},
    {"sensitivity": 5, "gums": "white_fading"},
    {"sensitivity": 9, "eye": True},
    {"swelling": True, "call_me": True},
    {"swelling": True, "eye": True},
    {"gums": "raw", "call_me": True},
    {"painkillers": "more_or_still", "satisfaction": 1},
    {"painkillers": "more_or_still", "woke_at_night": True},
]
# Day of the answer after the session of Tuesday 3 March: open; a Saturday; open; a Monday evening after closing.
MOMENTS = {
    2: datetime(2026, 3, 5, 10, 30, tzinfo=UTC),
    4: datetime(2026, 3, 7, 12, 0, tzinfo=UTC),
    10: datetime(2026, 3, 13, 9, 0, tzinfo=UTC),
    27: datetime(2026, 3, 30, 19, 0, tzinfo=UTC),
}


def said(changes: Mapping[str, object]) -> Answers:
    return replace(WELL, **changes)  # type: ignore[arg-type]  # each case names what differs


@pytest.mark.parametrize(
    ("changes", "by_day"),
    [
        # On day 2, 4, 10 and 27.
        ({}, ["nothing"] * 4),
        ({"sensitivity": 1}, ["nothing", "nothing", "we_call", "we_call"]),
        ({"sensitivity": 5}, ["we_call"] * 4),
        ({"sensitivity": 7}, ["call_now"] * 4),
        ({"woke_at_night": True}, ["call_today"] * 4),
        ({"gums": "white_fading"}, ["nothing"] * 4),
        ({"gums": "raw"}, ["call_today"] * 4),
        ({"swelling": True}, ["emergency"] * 4),
        ({"eye": True}, ["call_now"] * 4),
        ({"painkillers": "more_or_still"}, ["we_call"] * 4),
        ({"satisfaction": 2}, ["we_call"] * 4),
        ({"call_me": True}, ["we_call"] * 4),
        # Two at once: the worst decides, and of two that are as bad the one that is quicker.
        ({"sensitivity": 8, "call_me": True}, ["call_now"] * 4),
        ({"swelling": True, "sensitivity": 9}, ["emergency"] * 4),
        ({"painkillers": "more_or_still", "gums": "raw"}, ["call_today"] * 4),
        ({"satisfaction": 1, "painkillers": "more_or_still"}, ["we_call"] * 4),
    ],
)
def test_what_is_to_be_done(changes: dict[str, object], by_day: list[str]) -> None:
    assert [to_do(triage(said(changes), day=day)) for day in MOMENTS] == by_day


@pytest.mark.parametrize("day", MOMENTS)
def test_no_reason_says_who_calls(day: int) -> None:
    for changes in chain(SINGLES, PAIRS):
        graded = triage(said(changes), day=day)
        if graded.worries:
            words = " ".join(map(str, reasons(graded, sensitivity=said(changes).sensitivity)))
            assert not re.search(r"\bcall", words, re.IGNORECASE), changes


def test_every_rule_has_its_words() -> None:
    assert set(_REASONS) == set(FUNCTIONS)


@pytest.mark.parametrize(
    ("day", "first"), [(2, "This is more than"), (4, "After four days"), (7, "After a week"), (27, "After a week")]
)
def test_of_sensitive_teeth_only_the_latest_day_is_said(day: int, first: str) -> None:
    words = [str(one) for one in reasons(triage(said({"sensitivity": 5}), day=day), sensitivity=5)]
    assert words[0].startswith(first)
    assert words[1:] == ["Lukewarm drinks and a paste for sensitive teeth can help."]


def words_after(changes: dict[str, object], *, day: int) -> list[str]:
    answers = said(changes)
    return [str(one) for one in reasons(triage(answers, day=day), sensitivity=answers.sensitivity)]


@pytest.mark.parametrize("day", MOMENTS)
def test_beside_an_emergency_stands_nothing_that_can_wait(day: int) -> None:
    """Somebody with a swollen throat reads neither of drinks nor of "within a day"."""
    alone = words_after({"swelling": True}, day=day)
    assert len(alone) == 1
    everything = {"gums": "raw", "sensitivity": 5, "falling": False, "painkillers": "more_or_still", "call_me": True}
    assert words_after({"swelling": True, **everything}, day=day) == alone
    also_eyes = words_after({"swelling": True, "eye": True, **everything}, day=day)
    assert also_eyes == [*alone, *words_after({"eye": True}, day=day)]


@pytest.mark.parametrize("day", MOMENTS)
def test_nothing_soothes_pain_that_should_not_wait(day: int) -> None:
    words = words_after({"sensitivity": 8, "painkillers": "more_or_still"}, day=day)
    assert words[0] == "Pain of seven or more should not wait."
    assert "Do not take more for the pain than the label says." in words
    assert not any("Lukewarm" in one for one in words)


@pytest.mark.django_db
class TestThePage:
    @pytest.fixture(params=MOMENTS)
    def moment(self, request: pytest.FixtureRequest, clock: time_machine.Traveller) -> datetime:
        at = MOMENTS[request.param]
        clock.move_to(at)
        return at

    @pytest.fixture
    def read(self, cast: Cast, phone: Client, moment: datetime) -> "Reader":
        afterwards.opening_hours(cast)
        session = afterwards.a_closed_session(cast)
        known(phone, afterwards.address(session, now=moment))
        return Reader(cast, phone, moment)

    def test_it_never_says_both(self, read: "Reader") -> None:
        for changes in chain(SINGLES, PAIRS):
            reply, page = read.after(changes)
            heading = strip_tags(re.findall(r"<h1>(.*?)</h1>", page, re.DOTALL)[0]).strip()
            words = strip_tags(re.sub(r"<a\b.*?</a>", "", page))
            if not reply.urgency:
                assert heading == "Thank you for telling us"
                assert not WE_CALL.search(words), changes
                continue
            you_call, we_call = YOU_CALL.findall(words), WE_CALL.findall(words)
            # One sentence says it, and it is the heading.
            assert (len(you_call), len(we_call)) in {(1, 0), (0, 1)}, (changes, heading)
            assert YOU_CALL.search(heading) or WE_CALL.search(heading), changes
            # Who is to call now has the one number as the one button, who is called none.
            assert page.count('class="button"') == ("now" in heading or "today" in heading), (changes, heading)

    def test_each_number_stands_there_once(self, read: "Reader") -> None:
        for changes in ({"swelling": True}, {"eye": True}, {"gums": "raw"}, {"call_me": True}):
            _reply, page = read.after(changes)
            numbers = re.findall(r'href="tel:([^"]+)"', page)
            assert sorted(numbers) == sorted(["+442079460100", "+442079460199", "999", "111"]), changes

    def test_staff_read_what_the_patient_was_told(self, read: "Reader", cast: Cast) -> None:
        reply, page = read.after({"gums": "raw"})
        heading = strip_tags(re.findall(r"<h1>(.*?)</h1>", page, re.DOTALL)[0]).strip()
        theirs = sign_in(cast.clinician).get(reverse("escalation", args=[reply.escalation.pk])).content.decode()
        assert heading in theirs
        assert "Rinse with lukewarm salt water until then." in theirs


class Reader:
    """Gives an answer and reads what stands there afterwards."""

    def __init__(self, cast: Cast, phone: Client, at: datetime) -> None:
        self.cast, self.phone, self.at = cast, phone, at
        self.session = afterwards.a_closed_session(cast)

    def after(self, changes: Mapping[str, object]) -> tuple[Reply, str]:
        actor = actor_of(self.cast.desk)
        reply, _graded = record_reply(session=self.session, answers=said(changes), actor=actor, now=self.at)
        answer = self.phone.get(reverse("how_are_you_said", args=[signing.dumps(reply.pk, salt=SALT)]))
        assert answer.status_code == 200
        return reply, answer.content.decode().partition("<main")[2].partition("</main>")[0]


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("at", "changes", "heading"),
    [
        (MOMENTS[2], {"sensitivity": 8}, "Call us now"),
        (MOMENTS[4], {"sensitivity": 8}, "Call our number for outside opening hours now"),
        (MOMENTS[2], {"gums": "raw"}, "Call us today"),
        (MOMENTS[4], {"gums": "raw"}, "Call our number for outside opening hours today"),
        # Over a night it may wait, over a weekend not.
        (MOMENTS[27], {"gums": "raw"}, "Call us when we open: Tue 31 Mar 2026, 08:30"),
        (MOMENTS[4], {"swelling": True}, "Call 999 now"),
        (MOMENTS[2], {"sensitivity": 5}, "We call you by Thu 5 Mar 2026, 18:00"),
        (MOMENTS[4], {"satisfaction": 1}, "We call you by Thu 12 Mar 2026, 08:30"),
    ],
)
def test_the_heading_says_it(
    cast: Cast, phone: Client, clock: time_machine.Traveller, at: datetime, changes: dict[str, object], heading: str
) -> None:
    clock.move_to(at)
    afterwards.opening_hours(cast)
    known(phone, afterwards.address(afterwards.a_closed_session(cast), now=at))
    _reply, page = Reader(cast, phone, at).after(changes)
    assert re.search(rf"<h1>\s*{heading}\s*</h1>", page)


@pytest.mark.django_db
def test_nobody_is_promised_a_call_without_a_number(cast: Cast, phone: Client, clock: time_machine.Traveller) -> None:
    clock.move_to(MOMENTS[2])
    known(phone, afterwards.address(afterwards.a_closed_session(cast), now=MOMENTS[2]))
    Patient.objects.filter(pk=cast.patient.pk).update(phone="")
    _reply, page = Reader(cast, phone, MOMENTS[2]).after({"call_me": True})
    assert re.search(r"<h1>\s*You hear from us by Sun 8 Mar 2026, 10:30\s*</h1>", page)


def test_the_kinds_of_things_to_do_all_come_up() -> None:
    seen = {to_do(triage(said(changes), day=2)) for changes in SINGLES}
    assert seen == set(ToDo)
