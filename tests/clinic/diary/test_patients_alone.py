"""What patients may pick alone: set on the kind of visit, counted from the moment they look."""

from datetime import UTC, datetime

import pytest
from django.db import IntegrityError, transaction
from django.urls import reverse

from clinic.accounts.models import Site
from clinic.accounts.rights import NotAllowed
from clinic.diary.actions.visit_types import PatientRules, let_patients_book
from clinic.diary.models import VisitType
from clinic.diary.patients_alone import patient_window
from clinic.diary.refusals import KindChangedMeanwhile
from clinic.trail.models import TrailEntry
from tests.cast import Cast, actor_of, sign_in
from tests.clinic.diary.house import visit
from tests.support import nothing_written


def saved(pk: int) -> tuple[bool, int, int, int]:
    row = VisitType.objects.get(pk=pk)
    return row.patient_may_book, row.patient_days_ahead, row.patient_notice_hours, row.version


RULES = {"name": "Talk", "may_book": "on", "days_ahead": "14", "notice_hours": "48"}


def test_a_manager_sets_them(diary: Cast) -> None:
    manager, kind = sign_in(diary.manager), visit()
    assert saved(kind.pk) == (False, 60, 24, 1)
    address = reverse("setup_visit_patients", args=[kind.pk])
    answer = manager.post(address, RULES | {"version": "1"})
    assert answer.headers["Location"] == reverse("setup_visit", args=[kind.pk])
    assert saved(kind.pk) == (True, 14, 48, 2)
    kept = VisitType.objects.get(pk=kind.pk)
    assert (kept.patient_name, kept.patient_may_move) == ("Talk", False)
    page = manager.get(reverse("setup_visit", args=[kind.pk]))
    assert [page.context["alone"][name].value() for name in ("may_book", "days_ahead", "notice_hours")] == [
        True,
        14,
        48,
    ]
    entry = TrailEntry.objects.filter(verb="diary.visit_type_changed").latest("pk")
    assert (entry.actor_name, entry.subject_id) == (diary.manager.name, str(kind.pk))


def test_of_two_who_change_it_the_second_is_told(diary: Cast) -> None:
    manager, kind = sign_in(diary.manager), visit()
    address = reverse("setup_visit_patients", args=[kind.pk])
    assert manager.post(address, RULES | {"version": "1"}).status_code == 302
    for outdated in ({"version": "1"}, {"version": "soon"}, {}):
        with nothing_written():
            page = manager.post(address, RULES | {"days_ahead": "30"} | outdated)
        assert page.status_code == 409
        assert page.context["error"] == KindChangedMeanwhile.sentence
        # What was typed is still there, and so is the version that it was typed for.
        assert page.context["alone"]["days_ahead"].value() == "30"
    assert saved(kind.pk) == (True, 14, 48, 2)


@pytest.mark.parametrize(
    ("typed", "field"),
    [
        ({"days_ahead": "0", "notice_hours": "24"}, "days_ahead"),
        ({"days_ahead": "731", "notice_hours": "24"}, "days_ahead"),
        ({"days_ahead": "", "notice_hours": "24"}, "days_ahead"),
        ({"days_ahead": "60", "notice_hours": "-1"}, "notice_hours"),
        ({"days_ahead": "60", "notice_hours": "337"}, "notice_hours"),
        ({"days_ahead": "60", "notice_hours": "soon"}, "notice_hours"),
    ],
)
def test_what_cannot_be(diary: Cast, typed: dict[str, str], field: str) -> None:
    manager, kind = sign_in(diary.manager), visit()
    with nothing_written():
        page = manager.post(reverse("setup_visit_patients", args=[kind.pk]), typed)
    assert page.status_code == 422
    assert list(page.context["alone"].errors) == [field]
    assert page.context["alone"][field].value() == typed[field]


def test_nobody_else_and_no_other_way(diary: Cast) -> None:
    rules, kind = PatientRules(name="", may_book=True, days_ahead=14, notice_hours=48), visit()
    with nothing_written(), pytest.raises(NotAllowed):
        let_patients_book(visit_type=kind, rules=rules, version=1, user=diary.desk, actor=actor_of(diary.desk))
    rows = VisitType.objects.filter(pk=kind.pk)
    for wrong in ({"patient_days_ahead": 0}, {"patient_days_ahead": 731}, {"patient_notice_hours": 337}):
        with pytest.raises(IntegrityError), transaction.atomic():
            rows.update(**wrong)


def test_the_window() -> None:
    """Hours pass also while the clock changes; days are the site's own, the last one whole."""
    site = Site(timezone="Europe/Berlin")
    kind = VisitType(site=site, patient_days_ahead=7, patient_notice_hours=24)
    now = datetime(2026, 3, 28, 23, 30, tzinfo=UTC)  # Half past midnight of the night in which the clock changes.
    first, end = patient_window(kind, now=now)
    assert first == datetime(2026, 3, 29, 23, 30, tzinfo=UTC)
    assert end == datetime(2026, 4, 5, 22, 0, tzinfo=UTC)
    long_notice = VisitType(site=site, patient_days_ahead=1, patient_notice_hours=24 * 14)
    first, end = patient_window(long_notice, now=now)
    assert end < first
