"""Who is on call: turns on a rota, the person who stands in, gaps by name."""

from datetime import UTC, datetime, timedelta

import pytest
from django.test import Client
from django.urls import reverse

from clinic.accounts.actions import people
from clinic.accounts.actions.rota import MayNotAnswer, NotOfThisSite, add_turn
from clinic.accounts.models import Membership, OnCallTurn, Role, Site, User
from clinic.accounts.refusals import OnCall
from clinic.accounts.rota import LOOKED_AHEAD, gaps, on_call, on_call_at, uncovered
from clinic.trail.models import TrailEntry
from tests.answer import Answer
from tests.cast import NOW, Cast, sign_in
from tests.support import nothing_written

WEEK = {"from_day": "2026-03-02", "from_time": "08:00", "until_day": "2026-03-09", "until_time": "08:00"}


@pytest.fixture(autouse=True)
def _now(monkeypatch: pytest.MonkeyPatch) -> None:
    for module in ("views.rota", "missing"):
        monkeypatch.setattr(f"clinic.accounts.{module}.now", lambda: NOW)


def put(client: Client, site: Site, who: User, **changes: str) -> Answer:
    return client.post(reverse("rota", args=[site.pk]), WEEK | {"person": str(who.pk)} | changes)


def test_it_works(cast: Cast) -> None:
    client = sign_in(cast.manager)
    assert put(client, cast.fernbrook, cast.hygienist).status_code == 302
    turn = OnCallTurn.objects.get()
    assert (turn.from_at, turn.until_at) == (
        datetime(2026, 3, 2, 8, tzinfo=UTC),
        datetime(2026, 3, 9, 8, tzinfo=UTC),
    )
    assert TrailEntry.objects.latest("pk").verb == "accounts.turn_added"
    page = client.get(reverse("rota", args=[cast.fernbrook.pk])).content.decode()
    assert "Hugo Weber is on call at Fernbrook" in page
    # The next turn begins where this one ends.
    assert 'value="2026-03-09"' in page
    client.post(reverse("rota_remove", args=[turn.pk]))
    assert not OnCallTurn.objects.exists()
    assert (
        "Cleo Haddad is on call at Fernbrook" in client.get(reverse("rota", args=[cast.fernbrook.pk])).content.decode()
    )


def test_in_summer_the_wall_clock_of_the_site_counts(cast: Cast) -> None:
    changes = {"from_day": "2026-07-06", "until_day": "2026-07-13"}
    put(sign_in(cast.manager), cast.fernbrook, cast.hygienist, **changes)
    assert OnCallTurn.objects.get().from_at == datetime(2026, 7, 6, 7, tzinfo=UTC)


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"until_day": "2026-03-02", "until_time": "07:59"}, "The turn ends before it begins"),
        ({"from_day": "2026-02-02", "until_day": "2026-02-09"}, "is over already"),
        ({"from_day": "2026-03-08"}, "Hugo Weber is on call from Mon 2 Mar 2026, 08:00 to Mon 9 Mar 2026, 08:00"),
        ({"from_day": "soon"}, "Choose the day."),
        ({"from_day": "0001-01-01"}, "A turn begins at most a month ago and ends within two years."),
        ({"until_day": "9999-12-31"}, "A turn begins at most a month ago and ends within two years."),
        # Within the days and beyond the hours.
        ({"until_day": "2028-03-02", "until_time": "09:01"}, "A turn begins at most a month ago"),
        ({"person": "999999"}, "Choose one from the list"),
    ],
)
def test_refused_and_nothing_written(cast: Cast, changes: dict[str, str], sentence: str) -> None:
    client = sign_in(cast.manager)
    put(client, cast.fernbrook, cast.hygienist)
    if "until_day" in changes:
        OnCallTurn.objects.all().delete()
    with nothing_written():
        answer = put(client, cast.fernbrook, cast.clinician, **changes)
    assert answer.status_code == 422
    assert sentence in answer.content.decode()


def test_turns_may_touch(cast: Cast) -> None:
    client = sign_in(cast.manager)
    put(client, cast.fernbrook, cast.hygienist)
    put(client, cast.fernbrook, cast.clinician, from_day="2026-03-09", until_day="2026-03-16")
    change = datetime(2026, 3, 9, 8, tzinfo=UTC)
    assert on_call_at(cast.fernbrook, change - timedelta(seconds=1)) == cast.hygienist
    assert on_call_at(cast.fernbrook, change) == cast.clinician


def test_who_has_a_turn_cannot_leave(cast: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("clinic.accounts.views.people.now", lambda: NOW)
    client = sign_in(cast.manager)
    put(client, cast.fernbrook, cast.hygienist)
    with nothing_written():
        page = client.post(reverse("person_end", args=[cast.hygienist.pk]), follow=True).content.decode()
    assert "This person is on call at the site." in page


def test_only_somebody_who_may_read_the_answers_is_given_a_turn(cast: Cast) -> None:
    start, client = datetime(2026, 3, 2, 8, tzinfo=UTC), sign_in(cast.manager)
    with nothing_written():
        assert put(client, cast.fernbrook, cast.desk).status_code == 422
        for person, refusal in ((cast.desk, MayNotAnswer), (cast.elsewhere, NotOfThisSite)):
            with pytest.raises(refusal):
                add_turn(
                    site=cast.fernbrook,
                    person=person,
                    from_at=start,
                    until_at=start + timedelta(days=7),
                    user=cast.manager,
                    actor=cast.manager.actor,
                    now=NOW,
                )


@pytest.mark.parametrize("roles", [[Role.DESK], []])
def test_who_has_a_turn_keeps_the_role_it_needs(cast: Cast, roles: list[Role]) -> None:
    put(sign_in(cast.manager), cast.fernbrook, cast.hygienist)

    def change(roles: list[Role], now: datetime) -> None:
        people.change_person(
            person=cast.hygienist,
            site=cast.fernbrook,
            details=people._details_of(cast.hygienist),
            roles=roles,
            user=cast.manager,
            actor=cast.manager.actor,
            now=now,
        )

    with nothing_written(), pytest.raises(OnCall):
        change(roles, NOW)
    change([Role.ASSISTANT], NOW)
    # After the turn nothing holds them any more.
    change(roles, NOW + timedelta(days=6))
    assert User.objects.get(pk=cast.hygienist.pk).roles_at(cast.fernbrook) == set(roles)


def test_who_may_not_read_answers_is_never_on_call(cast: Cast) -> None:
    """Neither by a turn that was given when their role was another one, nor as the one who stands in."""
    put(sign_in(cast.manager), cast.fernbrook, cast.hygienist)
    Membership.objects.filter(user=cast.hygienist).update(site=cast.alderton)
    assert on_call_at(cast.fernbrook, NOW) == cast.clinician
    cast.fernbrook.on_call = cast.desk
    assert on_call_at(cast.fernbrook, NOW) is None
    assert gaps(cast.fernbrook, now=NOW) == [(NOW, NOW + LOOKED_AHEAD)]


@pytest.mark.parametrize("zone", ["Europe/Berlin", "America/New_York"])
def test_the_first_and_the_last_day_there_are_take_no_page_away(cast: Cast, zone: str) -> None:
    Site.objects.filter(pk=cast.fernbrook.pk).update(timezone=zone)
    client, day = sign_in(cast.manager), {"from_day": "0001-01-01", "from_time": "00:00"}
    with nothing_written():
        assert put(client, cast.fernbrook, cast.hygienist, **day).status_code == 422
    first, last = datetime(1, 1, 1, tzinfo=UTC), datetime(9999, 12, 31, 23, 59, tzinfo=UTC)
    OnCallTurn.objects.create(site=cast.fernbrook, person=cast.hygienist, from_at=first, until_at=last)
    assert client.get(reverse("rota", args=[cast.fernbrook.pk])).status_code == 200
    # The refusal names the odd turn.
    assert put(client, cast.fernbrook, cast.clinician).status_code == 422


def test_who_has_left_holds_no_turn(cast: Cast) -> None:
    put(sign_in(cast.manager), cast.fernbrook, cast.hygienist)
    User.objects.filter(pk=cast.hygienist.pk).update(is_active=False)
    held = on_call(cast.fernbrook, at=NOW)
    assert held is not None
    assert (held.person, held.until_at) == (cast.clinician, None)


def test_gaps_are_named_where_nobody_stands_in(cast: Cast) -> None:
    client = sign_in(cast.manager)
    put(client, cast.fernbrook, cast.hygienist)
    assert "Nobody is on call" not in client.get(reverse("setup")).content.decode()
    Site.objects.filter(pk=cast.fernbrook.pk).update(on_call=None)
    end = datetime(2026, 3, 9, 8, tzinfo=UTC)
    assert gaps(Site.objects.get(pk=cast.fernbrook.pk), now=NOW) == [(end, NOW + LOOKED_AHEAD)]
    page = client.get(reverse("setup")).content.decode()
    assert "Nobody is on call from Mon 9 Mar 2026, 08:00 until Tue 17 Mar 2026, 09:00." in page


@pytest.mark.parametrize("stands_in", [True, False])
def test_without_a_turn_both_pages_say_where_an_answer_goes(cast: Cast, *, stands_in: bool) -> None:
    """No page promises somebody who is not there, and none says that nobody sees the answer where somebody does."""
    if not stands_in:
        Site.objects.filter(pk=cast.fernbrook.pk).update(on_call=None)
    client = sign_in(cast.manager)
    page = client.get(reverse("rota", args=[cast.fernbrook.pk])).content.decode()
    assert ("the person on call of the site’s page is told, day and night" in page) == stands_in
    assert ("goes to whoever closed the session" in page) != stands_in
    assert ("goes to whoever closed the session" in client.get(reverse("setup")).content.decode()) != stands_in


@pytest.mark.parametrize(
    ("spans", "left"),
    [
        ([], [(0, 10)]),
        ([(0, 10)], []),
        ([(-5, 3), (3, 20)], []),
        ([(2, 4), (6, 8)], [(0, 2), (4, 6), (8, 10)]),
        ([(6, 8), (2, 7)], [(0, 2), (8, 10)]),
        ([(12, 14)], [(0, 10)]),
    ],
)
def test_what_spans_leave_open(spans: list[tuple[int, int]], left: list[tuple[int, int]]) -> None:
    def at(hour: int) -> datetime:
        return NOW + timedelta(hours=hour)

    found = uncovered([(at(a), at(b)) for a, b in spans], from_at=NOW, until_at=at(10))
    assert list(found) == [(at(a), at(b)) for a, b in left]
