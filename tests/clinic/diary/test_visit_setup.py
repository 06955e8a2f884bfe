"""The segments of a visit in Set-up: seen as a picture first, kept as typed, or refused and nothing kept."""

from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from clinic.accounts.models import Site
from clinic.accounts.rights import NotAllowed
from clinic.diary.actions.visit_types import set_segments
from clinic.diary.models import Need, Resource, VisitCode, VisitType
from clinic.diary.openings import Wanted, find
from clinic.diary.segments import segments_of
from clinic.diary.visit_forms import MOST_SEGMENTS, segment_forms
from clinic.trail.models import TrailEntry
from tests.answer import Answer
from tests.cast import Cast, actor_of, sign_in
from tests.clinic.diary.house import another_patient, at, book, resource, visit
from tests.clinic.diary.test_setup import missing
from tests.support import nothing_written

TREATMENT = VisitCode.TREATMENT
CYCLE = 2


@pytest.fixture
def manager(diary: Cast) -> Client:
    return sign_in(diary.manager)


def typed(kind: VisitType, changes: dict[str, Any] | None = None) -> dict[str, str]:
    """The page as it is sent, with some fields typed otherwise: {"0-minutes": 45}."""
    data = {"version": str(kind.version), **as_shown(kind)} | {
        f"segments-{key}": value for key, value in (changes or {}).items()
    }
    return {name: str(value) for name, value in data.items() if value is not False and value is not None}


def as_shown(kind: VisitType) -> dict[str, Any]:
    forms = segment_forms(kind)
    data = {f"segments-{name}": forms.management_form[name].value() for name in ("TOTAL_FORMS", "INITIAL_FORMS")}
    return data | {form.add_prefix(name): form[name].value() or "" for form in forms for name in form.fields}


def send(client: Client, kind: VisitType, changes: dict[str, Any] | None = None, **more: str) -> Answer:
    return client.post(reverse("setup_visit", args=[kind.pk]), typed(kind, changes) | more)


def lengths(kind: VisitType) -> list[tuple[str, int, str]]:
    return [(str(one.name), one.minutes, one.basis) for one in segments_of(kind)]


def test_a_length_of_our_own(diary: Cast, manager: Client) -> None:
    before, kind = book(diary, at(9)), visit()
    assert send(manager, kind, {"0-minutes": 45}).headers["Location"] == reverse("setup_visit", args=[kind.pk])
    common = "common practice, no source"
    assert lengths(kind) == [("Talk and examination", 45, "set by the practice"), ("Turn-round", 5, common)]
    assert visit().version == 2
    assert "segments" in TrailEntry.objects.filter(verb="diary.visit_type_changed").latest("pk").fields
    # What is booked keeps its length.
    before.refresh_from_db()
    assert before.ends_at == at(9, 35)
    assert book(diary, at(11), patient=another_patient(diary)).ends_at == at(11, 50)


def test_one_more_one_gone_another_order(diary: Cast, manager: Client) -> None:
    kind = visit(TREATMENT)
    more = {"5-place": 1, "5-name": "Photographs", "5-minutes": 5, "5-room": "on", "5-basis": "three weeks of our own"}
    assert send(manager, kind, more | {"0-place": 2, "4-gone": "on"}).status_code == 302
    made = segments_of(kind)
    assert [one.name for one in made] == ["Photographs", "Set-up", "Start and barrier", "Cycle", "Finish"]
    assert (made[0].needs, made[0].basis) == (((Need.ROOM, False),), "three weeks of our own")
    # What was not touched is as it was, the light only where the plan uses one.
    assert set(made[3].needs) == {
        (Need.ROOM, False),
        (Need.ASSISTANT, False),
        (Need.CLINICIAN, False),
        (Need.LIGHT_ANY, True),
    }
    assert [one.per_cycle for one in made] == [False, False, False, True, False]


def test_looking_keeps_nothing(diary: Cast, manager: Client) -> None:
    kind = visit()
    with nothing_written():
        page = send(manager, kind, {"0-minutes": 45}, look="1")
    assert page.status_code == 200
    assert page.context["timeline"].minutes == 50
    words = page.content.decode()
    assert "As typed, not saved yet:" in words
    assert 'value="45"' in words


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"0-minutes": 0}, "minutes"),
        ({"0-minutes": 481}, "minutes"),
        ({"0-minutes": "ten"}, "minutes"),
        ({"0-minutes": ""}, "minutes"),
        ({"0-name": ""}, "name"),
        ({"0-name": "x" * 81}, "name"),
        ({"0-name": "Talk\x00"}, "name"),
        ({"0-clinician": "somebody"}, "clinician"),
        ({"0-light": "candle"}, "light"),
        ({"0-place": 0}, "place"),
    ],
)
def test_what_cannot_be(diary: Cast, manager: Client, changes: dict[str, object], field: str) -> None:
    kind = visit()
    with nothing_written():
        page = send(manager, kind, changes)
    assert page.status_code == 422
    form = page.context["segments"].forms[0]
    assert list(form.errors) == [field]
    assert str(form[field].value()) == str(changes[f"0-{field}"])


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"0-gone": "on", "1-gone": "on"}, "A visit needs at least one segment"),
        ({"0-minutes": 240, "0-counted": "per_cycle"}, "longer than a day"),
    ],
)
def test_what_is_refused(diary: Cast, manager: Client, changes: dict[str, object], says: str) -> None:
    with nothing_written():
        page = send(manager, visit(), changes)
    assert page.status_code == 409
    assert says in page.content.decode()


def test_too_many_and_no_count_at_all(diary: Cast, manager: Client) -> None:
    kind = visit()
    many = {f"{number}-{name}": value for number in range(2, 13) for name, value in (("name", "x"), ("minutes", 5))}
    with nothing_written():
        page = send(manager, kind, many | {"TOTAL_FORMS": MOST_SEGMENTS + 1})
        bare = manager.post(reverse("setup_visit", args=[kind.pk]), {})
    assert (page.status_code, bare.status_code) == (422, 422)


def test_somebody_else_was_faster(diary: Cast, manager: Client) -> None:
    kind = visit()
    late = typed(kind, {"0-minutes": 20})
    send(manager, kind, {"0-minutes": 45})
    with nothing_written():
        page = manager.post(reverse("setup_visit", args=[kind.pk]), late)
        without = manager.post(reverse("setup_visit", args=[kind.pk]), late | {"version": "x"})
    assert (page.status_code, without.status_code) == (409, 409)
    assert "Somebody else changed this kind of visit" in page.content.decode()
    assert page.context["segments"].forms[0]["minutes"].value() == "20"
    # Sent once more it is refused once more.
    assert page.context["version"] == "1"


def test_nobody_else(diary: Cast) -> None:
    kind = visit()
    who: dict[str, Any] = {"user": diary.clinician, "actor": actor_of(diary.clinician)}
    with nothing_written(), pytest.raises(NotAllowed):
        set_segments(visit_type=kind, segments=segments_of(kind), version=1, **who)


class TestFreeDuringTheCycles:
    def test_refused_where_the_rules_want_a_clinician(self, diary: Cast, manager: Client) -> None:
        kind = visit(TREATMENT)
        for more in ({}, {"look": "1"}):
            with nothing_written():
                page = send(manager, kind, {f"{CYCLE}-clinician": ""}, **more)
            assert page.status_code == 409
            assert "In United Kingdom a clinician stays through the cycles (Cosmetic Products" in page.content.decode()
        Site.objects.filter(pk=diary.fernbrook.pk).update(jurisdiction="")
        with nothing_written():
            page = send(manager, kind, {f"{CYCLE}-clinician": ""})
        assert "Choose first whose rules hold here" in page.content.decode()

    def test_really_free_where_they_do_not(self, diary: Cast, manager: Client) -> None:
        """The same clinician sees somebody else in the other room while the assistant stays."""
        Site.objects.filter(pk=diary.fernbrook.pk).update(jurisdiction="US")
        kind = visit(TREATMENT)
        assert send(manager, kind, {f"{CYCLE}-clinician": ""}).status_code == 302
        page = manager.get(reverse("setup_visit", args=[kind.pk]))
        assert "ask your dental board" in page.content.decode()
        lanes = {lane.need: (lane.bound, lane.between) for lane in page.context["timeline"].lanes}
        assert (lanes[Need.CLINICIAN], lanes[Need.ASSISTANT]) == ((40, 80), (140, 0))
        cleo: Resource = resource("Cleo Haddad")
        book(diary, at(9), code=TREATMENT, cycles=4, light_kind="hand_held", person=cleo.pk)
        # Bound from 9:10 to 9:35 and from 10:55 to 11:10; between them a consultation of 35 minutes fits.
        offered = find(
            site=diary.fernbrook,
            wanted=Wanted(visit(), person=cleo.pk),
            earliest_at=at(9),
            latest_at=at(11),
            limit=20,
        )
        starts = [(one.start_at, one.chosen[Need.ROOM].name) for one in offered.found]
        assert starts == [(at(9, 45) + timedelta(minutes=15 * number), "Alder") for number in range(3)]
        assert book(diary, at(9, 45), patient=another_patient(diary), person=cleo.pk).ends_at == at(10, 20)

    def test_rules_chosen_afterwards_are_missing_in_set_up(self, diary: Cast, manager: Client) -> None:
        Site.objects.filter(pk=diary.fernbrook.pk).update(jurisdiction="US")
        send(manager, visit(TREATMENT), {f"{CYCLE}-clinician": ""})
        diary.fernbrook.refresh_from_db()
        assert missing(diary) == []
        Site.objects.filter(pk=diary.fernbrook.pk).update(jurisdiction="EU")
        diary.fernbrook.refresh_from_db()
        (sentence,) = missing(diary)
        assert sentence.startswith("Whitening session: In European Union a clinician stays through the cycles")
