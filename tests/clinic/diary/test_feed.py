"""The address that a calendar program asks: what it gives, to whom, and what it never says."""

import logging
from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from clinic.accounts.models import User
from clinic.config.logs import HideSecrets
from clinic.diary import actions, feed
from clinic.diary.views import feed as door
from clinic.documents.throttle import STRETCH
from clinic.trail import access
from tests.cast import NOW, Cast, actor_of
from tests.catalogues import WORDS, Catalogues
from tests.clinic.diary.fetching import fetch, make, read, told
from tests.clinic.diary.house import another_patient, at, book, pencil, resource, visit
from tests.clinic.diary.ics import end_of, events, start_of
from tests.support import nothing_written

TRIES = "clinic_documents_checktries"
QUIET = ("access_entry", TRIES)


def test_it_works(diary: Cast) -> None:
    first = book(diary, at(9))
    _feed, token = make(diary)
    answer = fetch(token)
    assert answer.status_code == 200
    (event,) = events(answer.content)
    assert told(event) == ("Consultation", "CONFIRMED", "Willow, Fernbrook")
    assert (event["UID"], event["SEQUENCE"]) == (f"{first.uid}-{resource('Willow').pk}", 0)
    assert event["DTSTART"].params["TZID"] == "Europe/London"
    assert (start_of(event), end_of(event)) == (at(9), at(9, 35))
    assert (event["TRANSP"], event["CLASS"]) == ("OPAQUE", "PRIVATE")
    text = answer.content.decode()
    assert "METHOD" not in text
    assert "X-WR-CALNAME:Willow · Fernbrook\r\n" in text
    assert "REFRESH-INTERVAL;VALUE=DURATION:PT1H\r\n" in text
    assert max(len(line) for line in answer.content.split(b"\r\n")) <= 75


def test_its_headers(diary: Cast) -> None:
    _feed, token = make(diary)
    answer = fetch(token)
    assert answer.headers["Content-Type"] == "text/calendar; charset=utf-8"
    assert answer.headers["Cache-Control"] == "private, no-cache"
    assert answer.headers["X-Robots-Tag"] == "noindex, nofollow"
    assert answer.headers["ETag"].startswith('W/"')
    assert not answer.cookies


def test_wrong_role(diary: Cast) -> None:
    """There are no roles here, only who has the address: a signed-in browser gets the same and no more."""
    _feed, token = make(diary)
    client = Client()
    client.force_login(diary.desk)
    assert fetch(token, client=client).content == fetch(token).content


def test_other_site(diary: Cast) -> None:
    """A person's feed holds the visits of the place it was made for."""
    _feed, token = make(diary, "Cleo Haddad")
    book(diary, at(9))
    (event,) = read(token)
    assert str(event["LOCATION"]).endswith(", Fernbrook")


def test_wrong_method(diary: Cast) -> None:
    _feed, token = make(diary)
    with nothing_written():
        assert Client().post(reverse("calendar_feed", kwargs={"token": token})).status_code == 405


def ended(cast: Cast) -> str:
    made, token = make(cast)
    actions.take_back_calendar(feed=made, user=cast.manager, actor=actor_of(cast.manager), now=NOW)
    return token


def without(who: str, what: str) -> Callable[[Cast], str]:
    def build(cast: Cast) -> str:
        _made, token = make(cast, "Cleo Haddad")
        person: User = getattr(cast, who)
        if what == "access":
            User.objects.filter(pk=person.pk).update(is_active=False)
        else:
            person.memberships.all().delete()
        return token

    return build


@pytest.mark.parametrize(
    "build",
    [
        ended,
        without("clinician", "access"),
        without("clinician", "place"),
        without("manager", "access"),
        without("manager", "place"),
        lambda cast: make(cast)[0].token_hash,
        lambda cast: make(cast)[1] + "A",
        lambda cast: make(cast)[1].swapcase(),
        lambda _cast: "é" * 300,
    ],
    ids=["revoked", "access", "place", "maker's access", "maker's place", "digest", "longer", "other case", "strange"],
)
def test_what_opens_nothing_answers_like_any_other_wrong_address(diary: Cast, build: Callable[[Cast], str]) -> None:
    token = build(diary)
    with nothing_written(leave_out=QUIET), CaptureQueriesContext(connection) as asked:
        wrong = fetch(token)
    with CaptureQueriesContext(connection) as never_made:
        other = fetch("never-made")
    assert (wrong.status_code, wrong.content) == (404, other.content)
    assert dict(wrong.headers) == dict(other.headers)
    # One look-up; what is different is only that the second try of a source is counted by one statement.
    looked = [[one["sql"] for one in each if TRIES not in one["sql"]] for each in (asked, never_made)]
    assert [len([sql for sql in each if sql.startswith("SELECT")]) for each in looked] == [1, 1]


def test_who_guesses_is_slowed_and_nobody_else(diary: Cast) -> None:
    _feed, token = make(diary)
    for _ in range(door.MOST_WRONG):
        assert fetch("wrong").status_code == 404
    refused = fetch("wrong")
    assert (refused.status_code, refused.headers["Retry-After"]) == (429, "600")
    # A program with a right address sits behind the same router.
    assert fetch(token).status_code == 200
    assert fetch("wrong", now=NOW + STRETCH).status_code == 404


def test_a_program_that_asks_without_end_is_slowed(diary: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(door, "MOST_OF_A_FEED", 3)
    (_one, token), (_two, other) = make(diary), make(diary)
    assert [fetch(token).status_code for _ in range(4)] == [200, 200, 200, 429]
    assert fetch(other).status_code == 200
    assert fetch(token, now=NOW + STRETCH).status_code == 200


def test_an_unchanged_calendar_is_not_sent_again(diary: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    seen: list[dict[str, object]] = []

    def note(**what: Any) -> None:
        seen.append(what)
        access.note_read(**what)

    monkeypatch.setattr(door, "note_read", note)
    booking = book(diary, at(9))
    made, token = make(diary)
    first = fetch(token)
    later = NOW + timedelta(minutes=30)
    with monkeypatch.context() as patched:
        patched.setattr(feed, "write", None)
        again = fetch(token, now=later, known=first.headers["ETag"])
    assert (again.status_code, again.content) == (304, b"")
    assert {name: again.headers[name] for name in ("ETag", "Cache-Control")} == {
        "ETag": first.headers["ETag"],
        "Cache-Control": "private, no-cache",
    }
    actions.confirm(booking=pencil(diary, at(13)), actor=actor_of(diary.desk), now=NOW)
    actions.move(booking=booking, start_at=at(10), actor=actor_of(diary.desk), now=NOW)
    changed = fetch(token, now=later, known=first.headers["ETag"])
    assert changed.status_code == 200
    # Read twice: nothing left the practice with the answer between.
    assert [(one["what"], one["subject"], one["patient_id"]) for one in seen] == [
        ("diary.feed", ("calendar_feed", made.pk), None)
    ] * 2


def test_when_it_was_last_fetched_is_written_now_and_then(diary: Cast) -> None:
    made, token = make(diary)
    seen = []
    for minutes in (0, 9, 10, 15):
        fetch(token, now=NOW + timedelta(minutes=minutes))
        made.refresh_from_db()
        seen.append(made.last_fetched_at)
    ten = NOW + timedelta(minutes=10)
    assert seen == [NOW, NOW, ten, ten]


def test_a_visit_through_its_life(diary: Cast) -> None:
    _feed, token = make(diary)
    booking = pencil(diary, at(9))
    stages = [read(token)]
    booking = actions.confirm(booking=booking, actor=actor_of(diary.desk), now=NOW)
    stages.append(read(token))
    booking = actions.move(booking=booking, start_at=at(10), actor=actor_of(diary.desk), now=NOW)
    stages.append(read(token))
    actions.cancel(booking=booking, by="patient", reason="toothache", actor=actor_of(diary.desk), now=NOW)
    stages.append(read(token))
    lives = [event for (event,) in stages]
    assert {str(event["UID"]) for event in lives} == {f"{booking.uid}-{resource('Willow').pk}"}
    assert [event["SEQUENCE"] for event in lives] == [0, 0, 1, 2]
    assert [told(event)[:2] for event in lives] == [
        ("Pencilled: Whitening session", "TENTATIVE"),
        ("Whitening session", "CONFIRMED"),
        ("Whitening session", "CONFIRMED"),
        ("Cancelled: Whitening session", "CANCELLED"),
    ]
    assert [start_of(event) for event in lives] == [at(9), at(9), at(10), at(10)]
    assert [event["TRANSP"] for event in lives] == ["OPAQUE"] * 3 + ["TRANSPARENT"]


def test_a_time_held_on_the_telephone_is_not_told(diary: Cast) -> None:
    """In a few minutes it is a visit, or nothing."""
    _feed, token = make(diary)
    request = actions.BookingRequest(diary.patient, visit(), at(9))
    held = actions.hold(site=diary.fernbrook, request=request, actor=actor_of(diary.desk), now=NOW)
    assert read(token) == []
    actions.let_go(booking=held, actor=actor_of(diary.desk), now=NOW)
    assert read(token) == []
    held = actions.hold(site=diary.fernbrook, request=request, actor=actor_of(diary.desk), now=NOW)
    actions.book_held(booking=held, actor=actor_of(diary.desk), now=NOW)
    assert [told(event)[1] for event in read(token)] == ["CONFIRMED"]


def test_a_person_is_held_only_as_long_as_they_are_needed(diary: Cast) -> None:
    """The assistant is there from the first claim to the last; who examines leaves before the room is tidied."""
    booking = book(diary, at(9))
    claims = booking.claims.filter(resource__person__isnull=False)
    (person,) = {claim.resource for claim in claims}
    _feed, token = make(diary, person.name)
    (event,) = read(token)
    ends = max(claim.end_at for claim in claims)
    assert (start_of(event), end_of(event)) == (at(9), ends)
    assert ends < booking.ends_at
    assert told(event)[2] in {"Willow, Fernbrook", "Alder, Fernbrook"}


@pytest.mark.parametrize(("chosen", "summary"), [(False, "Consultation"), (True, "Consultation · AN")])
def test_nothing_about_the_patient_leaves(diary: Cast, chosen: bool, summary: str) -> None:
    book(diary, at(9), note="afraid of needles")
    _feed, token = make(diary, with_initials=chosen)
    with CaptureQueriesContext(connection) as asked:
        answer = fetch(token)
    (event,) = events(answer.content)
    assert str(event["SUMMARY"]) == summary
    for word in ("Amara", "Nwosu", "needles", "amara@example.org", "1990", "2079460101"):
        assert word not in answer.content.decode()
    asks_for_patients = [one for one in asked if "clinic_patients" in one["sql"]]
    assert bool(asks_for_patients) == chosen


@pytest.mark.parametrize(
    ("name", "initials"),
    [("Jip de Wit", "JW"), ("Søren Óskarsson", "SÓ"), ("Amara", "A"), ("王小明", "王"), ("élan vital", "ÉV"), ("", "")],
)
def test_initials(name: str, initials: str) -> None:
    assert feed.initials_of(name) == initials


@pytest.mark.parametrize("name", ["Willow", "Cleo Haddad"])
def test_the_number_of_questions_does_not_grow(diary: Cast, name: str) -> None:
    _feed, token = make(diary, name, with_initials=True)
    counts, sizes = [], []
    fetch(token)
    for day in range(2):
        for hour in range(9, 16):
            start_at = at(hour) + timedelta(days=day)
            made = book(diary, start_at, patient=another_patient(diary, day * 24 + hour), tell=False)
            if hour % 3 == 0:
                actions.cancel(booking=made, by="patient", reason="", actor=actor_of(diary.desk), now=NOW)
        with CaptureQueriesContext(connection) as asked:
            sizes.append(len(read(token)))
        counts.append(len([one for one in asked if one["sql"].startswith(("SELECT", "UPDATE", "INSERT"))]))
    assert 0 < sizes[0] < sizes[1]
    # The feed, its count, the visits, those given up; for a person also the rooms.
    assert counts == [4 if name == "Willow" else 5] * 2


def test_it_speaks_the_language_of_its_person(
    diary: Cast, catalogues: Catalogues, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(WORDS, "Pencilled: %(visit)s", {"de": "Vorgemerkt: %(visit)s"})
    catalogues.install("de")
    for who, language in ((diary.clinician, "de"), (diary.manager, "en")):
        User.objects.filter(pk=who.pk).update(language=language)
    pencil(diary, at(9))
    (_mine, mine), (_room, room) = make(diary, "Cleo Haddad"), make(diary)
    assert told(read(room)[0])[0] == "Pencilled: Whitening session"
    assert told(read(mine)[0])[0] == "Vorgemerkt: Whitening session"
    assert fetch(mine).headers["Content-Language"] == "de"


def test_no_log_keeps_the_address() -> None:
    token = "x" * 43
    record = logging.makeLogRecord(
        {"msg": '"GET %s HTTP/1.1" 200', "args": (reverse("calendar_feed", kwargs={"token": token}),)}
    )
    assert HideSecrets().filter(record)
    assert token not in record.getMessage()
    assert "/calendar/…/visits.ics" in record.getMessage()
