"""A practice words recall's messages itself: what a patient must not miss stays in them."""

from typing import Any

import pytest
from django.core import mail

from clinic.messages.actions.wording import Which, WordsNotKept, write_words
from clinic.messages.models import Wording
from clinic.messages.sweep import sweep
from tests.cast import NOW, Cast
from tests.support import nothing_written
from tests.whitening.recall import afterwards
from tests.whitening.recall.afterwards import later
from tests.whitening.recall.reviews import surgery
from whitening.chairside.models import Session
from whitening.recall.actions import ReviewDetails, record_review, tick
from whitening.recall.actions.recalling import CHECK_RECALL
from whitening.recall.models import Recall, RecallKind, ReviewDecision, Satisfaction

pytestmark = pytest.mark.django_db
TEXT = "Hello {name}, is all well?\n\n{link}\n\nDay: {number}\nNight: {out_of_hours}"


@pytest.fixture
def session(cast: Cast) -> Session:
    surgery(cast)
    return afterwards.a_closed_session(cast)


def write(cast: Cast, kind: str, *, subject: str, text: str) -> Wording:
    by: dict[str, Any] = {"at": cast.fernbrook, "user": cast.manager, "actor": cast.manager.actor, "now": NOW}
    return write_words(which=Which(kind, "email", "en"), subject=subject, text=text, seen_number=0, **by)


@pytest.mark.parametrize("kind", ["aftercare", "two_day_check"])
@pytest.mark.parametrize("name", ["{link}", "{number}", "{out_of_hours}"])
def test_who_worries_keeps_link_and_numbers(cast: Cast, kind: str, name: str) -> None:
    with nothing_written(), pytest.raises(WordsNotKept, match=f"{name} is missing"):
        write(cast, kind, subject="A word from {practice}", text=TEXT.replace(name, ""))


def test_the_two_day_check_in_own_words(cast: Cast, session: Session) -> None:
    write(cast, "two_day_check", subject="A word from {practice}", text=TEXT)
    sweep(now=NOW)
    mail.outbox.clear()
    sweep(now=later(days=2, hours=1))
    [sent] = [one for one in mail.outbox if one.to == ["amara@example.org"]]
    assert sent.subject == "A word from Fernbrook"
    assert str(sent.body).startswith("Hello Amara Nwosu, is all well?\n\nhttp")
    assert "Day: +44 20 7946 0100\nNight: +442079460199\n" in str(sent.body)


def test_one_click_still_ends_a_recall(cast: Cast, session: Session) -> None:
    """The way out is no part of the words: whatever a practice writes, it follows below."""
    write(cast, CHECK_RECALL, subject="Time to meet", text="Hello {name}: {link}")
    details = ReviewDetails(
        tab="A1",
        sensitivity=0,
        satisfaction=Satisfaction.HAPPY,
        gums_quiet=True,
        decision=ReviewDecision.FINISHED,
        check_months=6,
        colour_wording="",
    )
    by: dict[str, Any] = {"user": cast.clinician, "actor": cast.clinician.actor}
    record_review(case=session.case, details=details, now=later(days=30), **by)
    due_at = Recall.objects.get(kind=RecallKind.CHECK).due_at
    tick(now=due_at)
    mail.outbox.clear()
    sweep(now=due_at)
    [sent] = [one for one in mail.outbox if one.subject == "Time to meet"]
    end_url = sent.extra_headers["List-Unsubscribe"].strip("<>")
    assert f"No more messages of this kind: {end_url}" in str(sent.body)


def test_an_offer_names_what_it_takes_the_place_of(cast: Cast) -> None:
    """Else somebody says yes and loses the appointment that they had."""
    text = "Hello {name}, {date} is free until {until}. {link}"
    with nothing_written(), pytest.raises(WordsNotKept, match=r"{moves} is missing"):
        write(cast, "waitlist_offer", subject="A time is free", text=text)
    assert write(cast, "waitlist_offer", subject="A time is free", text=f"{text} {{moves}}").number == 1
