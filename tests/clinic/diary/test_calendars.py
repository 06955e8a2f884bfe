"""Making, seeing and taking back the addresses of calendars: one's own, and all of the site for a manager."""

from datetime import timedelta
from typing import Any

import pytest
from django.db import IntegrityError, connection, transaction
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from clinic.accounts.models import Role, User
from clinic.accounts.rights import NotAllowed
from clinic.diary import actions
from clinic.diary.actions.calendars import MOST_OPEN
from clinic.diary.models import CalendarFeed
from clinic.diary.refusals import CalendarEnded, NoCalendarOfThis, TooManyCalendars
from clinic.messages.links import hashed
from clinic.trail.models import TrailEntry
from tests.answer import Answer
from tests.cast import NOW, Cast, actor_of, hire, sign_in
from tests.clinic.diary.house import resource
from tests.support import nothing_written


def make(user: User, name: str = "Willow", **changes: Any) -> CalendarFeed:
    given: dict[str, Any] = {"with_initials": False, "label": ""} | changes
    feed, _secret = actions.make_calendar(resource=resource(name), user=user, actor=actor_of(user), now=NOW, **given)
    return feed


def take_back(feed: CalendarFeed, user: User) -> CalendarFeed:
    return actions.take_back_calendar(feed=feed, user=user, actor=actor_of(user), now=NOW + timedelta(hours=1))


def send(client: Client, where: str, **typed: Any) -> Answer:
    return client.post(reverse(where), typed)


def press(client: Client, where: str, feed: CalendarFeed) -> Answer:
    return client.post(reverse(where, kwargs={"pk": feed.pk}))


def test_it_works(diary: Cast) -> None:
    client = sign_in(diary.clinician)
    mine = resource("Cleo Haddad")
    assert f'value="{mine.pk}"' in client.get(reverse("own_calendars")).content.decode()
    page = send(client, "own_calendars", resource=mine.pk, label="my telephone", with_initials="on")
    assert page.status_code == 200
    feed = CalendarFeed.objects.get()
    assert (feed.resource, feed.label, feed.with_initials, feed.made_by) == (
        mine,
        "my telephone",
        True,
        diary.clinician,
    )
    # Shown in this one answer; in the database and on the page after it only what cannot be asked with.
    address = page.context["address"]
    secret = address.split("/")[-2]
    assert address in page.content.decode()
    assert feed.token_hash == hashed(secret)
    assert len(secret) == 43
    assert Client().get(reverse("calendar_feed", kwargs={"token": secret})).status_code == 200
    text = client.get(reverse("own_calendars")).content.decode()
    assert secret not in text
    assert "my telephone" in text
    assert press(client, "own_calendar_take_back", feed).headers["Location"] == reverse("own_calendars")
    assert Client().get(reverse("calendar_feed", kwargs={"token": secret})).status_code == 404
    assert "taken back by Cleo Haddad" in client.get(reverse("own_calendars")).content.decode()
    entries = TrailEntry.objects.filter(subject_kind="calendar_feed").order_by("pk")
    assert [(one.verb, one.fields, one.patient_id) for one in entries] == [
        ("diary.calendar_made", "calendar used_in with_initials", None),
        ("diary.calendar_taken_back", "calendar used_in with_initials", None),
    ]


def test_sent_once_more_by_a_reload_it_makes_no_second_address(diary: Cast) -> None:
    client, room = sign_in(diary.manager), resource("Willow").pk
    page = client.get(reverse("setup_calendars")).context["form"]["page"].value()
    made = send(client, "setup_calendars", resource=room, page=page)
    with nothing_written():
        again = send(client, "setup_calendars", resource=room, page=page)
    assert (made.status_code, again.status_code) == (200, 422)
    assert "made from this page already" in again.content.decode()
    # The page that showed it makes the next one.
    assert send(client, "setup_calendars", resource=room, page=made.context["form"]["page"].value()).status_code == 200
    assert CalendarFeed.objects.count() == 2


def test_a_manager_makes_one_of_a_room_and_of_anybody(diary: Cast) -> None:
    client = sign_in(diary.manager)
    for name in ("Willow", "Cleo Haddad"):
        assert send(client, "setup_calendars", resource=resource(name).pk).status_code == 200
    # Whom it is about sees it, and may end it.
    (theirs,) = CalendarFeed.objects.of_person(diary.clinician)
    person = sign_in(diary.clinician)
    text = person.get(reverse("own_calendars")).content.decode()
    assert "made by Mara O’Neill" in text
    assert press(person, "own_calendar_take_back", theirs).status_code == 302
    theirs.refresh_from_db()
    assert (theirs.revoked_by, theirs.revoked_at is None) == ("Cleo Haddad", False)
    assert reverse("setup_calendars") in client.get(reverse("setup")).content.decode()
    assert reverse("own_calendars") in client.get(reverse("own_account")).content.decode()


@pytest.mark.parametrize("name", ["Willow", "Tam Nguyen"])
def test_wrong_role(diary: Cast, name: str) -> None:
    """A clinician may make one of themself, and of nothing else."""
    feed = make(diary.manager, name)
    client = sign_in(diary.clinician)
    with nothing_written():
        assert send(client, "setup_calendars", resource=resource(name).pk).status_code == 403
        assert press(client, "setup_calendar_take_back", feed).status_code == 403
        assert press(client, "own_calendar_take_back", feed).status_code == 404
        assert send(client, "own_calendars", resource=resource(name).pk).status_code == 422
    with nothing_written(), pytest.raises(NotAllowed):
        make(diary.clinician, name)
    with nothing_written(), pytest.raises(NotAllowed):
        take_back(feed, diary.clinician)


def test_other_site(diary: Cast) -> None:
    feed = make(diary.manager)
    stranger = hire(diary.alderton, Role.MANAGER, name="Max Elsewhere", email="max@example.org")
    client = sign_in(stranger)
    with nothing_written():
        assert press(client, "setup_calendar_take_back", feed).status_code == 404
        assert send(client, "setup_calendars", resource=resource("Willow").pk).status_code == 422
        assert "Willow" not in client.get(reverse("setup_calendars")).content.decode()
    with nothing_written(), pytest.raises(NotAllowed):
        make(stranger)


def test_wrong_method(diary: Cast) -> None:
    feed = make(diary.manager)
    client = sign_in(diary.manager)
    with nothing_written():
        assert client.get(reverse("setup_calendar_take_back", kwargs={"pk": feed.pk})).status_code == 405


@pytest.mark.parametrize(
    ("typed", "field"),
    [
        ({}, "resource"),
        ({"resource": "0"}, "resource"),
        ({"resource": "Willow"}, "resource"),
        ({"resource": "lamp"}, "resource"),
        ({"resource": "room", "label": "x" * 61}, "label"),
        ({"resource": "room", "label": "my\x00telephone"}, "label"),
    ],
)
def test_bad_input(diary: Cast, typed: dict[str, str], field: str) -> None:
    known = {"lamp": str(resource("Lamp 1").pk), "room": str(resource("Willow").pk)}
    sent = typed | {"resource": known.get(typed.get("resource", ""), typed.get("resource", ""))}
    client = sign_in(diary.manager)
    with nothing_written():
        page = send(client, "setup_calendars", **sent)
    assert page.status_code == 422
    assert field in page.context["form"].errors
    assert page.context["form"]["label"].value() == typed.get("label")


def test_of_a_light_or_of_somebody_who_left_there_is_none(diary: Cast) -> None:
    with nothing_written(), pytest.raises(NoCalendarOfThis):
        make(diary.manager, "Lamp 1")
    User.objects.filter(pk=diary.clinician.pk).update(is_active=False)
    with nothing_written(), pytest.raises(NoCalendarOfThis):
        make(diary.manager, "Cleo Haddad")


def test_there_are_not_endlessly_many(diary: Cast) -> None:
    first, *_others = [make(diary.manager) for _ in range(MOST_OPEN)]
    with nothing_written(), pytest.raises(TooManyCalendars, match="Willow has 10 open"):
        make(diary.manager)
    client = sign_in(diary.manager)
    with nothing_written():
        page = send(client, "setup_calendars", resource=resource("Willow").pk)
    assert page.status_code == 422
    assert "Willow has 10 open addresses already." in page.content.decode()
    take_back(first, diary.manager)
    assert make(diary.manager).revoked_at is None


def test_taken_back_once(diary: Cast) -> None:
    feed = make(diary.manager)
    stale = CalendarFeed.objects.select_related("resource__site").get(pk=feed.pk)
    assert take_back(feed, diary.manager).revoked_by == "Mara O’Neill"
    with nothing_written(), pytest.raises(CalendarEnded):
        take_back(stale, diary.manager)
    client = sign_in(diary.manager)
    with nothing_written():
        page = client.post(reverse("setup_calendar_take_back", kwargs={"pk": feed.pk}), follow=True)
    assert "was taken back already" in page.content.decode()


def test_one_whose_maker_left_rests(diary: Cast) -> None:
    """It is said, it can be ended for good, and it answers again with the person's return."""
    feed = make(diary.clinician, "Cleo Haddad")
    client = sign_in(diary.manager)
    User.objects.filter(pk=diary.clinician.pk).update(is_active=False)
    page = client.get(reverse("setup_calendars"))
    assert (page.context["open"], page.context["ended"]) == ([], [feed])
    assert "rests: who made it" in page.content.decode()
    assert press(client, "setup_calendar_take_back", feed).status_code == 302
    assert not CalendarFeed.objects.filter(revoked_at=None).exists()


def test_somebody_without_a_place_in_the_diary(diary: Cast) -> None:
    page = sign_in(diary.desk).get(reverse("own_calendars"))
    assert "You have no place in the diary" in page.content.decode()
    assert '<form method="post"' not in page.content.decode().partition("page-main")[2].partition("</main>")[0]


def test_the_list_asks_no_more_for_more(diary: Cast) -> None:
    client = sign_in(diary.manager)
    counts = []
    for _ in range(2):
        for name in ("Willow", "Alder", "Cleo Haddad"):
            make(diary.manager, name)
            take_back(make(diary.manager, name), diary.manager)
        with CaptureQueriesContext(connection) as asked:
            client.get(reverse("setup_calendars"))
        counts.append(len(asked))
    assert counts[0] == counts[1]


@pytest.mark.parametrize(
    ("changes", "constraint"),
    [
        ({"token_hash": "plain"}, "calendar_feed_hash_shape"),
        ({"revoked_at": NOW - timedelta(seconds=1), "revoked_by": "x"}, "calendar_feed_ends_later"),
        ({"revoked_at": NOW}, "calendar_feed_ended_by"),
        ({"revoked_by": "x"}, "calendar_feed_ended_by"),
    ],
)
def test_the_database_has_the_last_word(diary: Cast, changes: dict[str, Any], constraint: str) -> None:
    feed = make(diary.manager)
    with nothing_written(), pytest.raises(IntegrityError, match=constraint), transaction.atomic():
        CalendarFeed.objects.filter(pk=feed.pk).update(**changes)
