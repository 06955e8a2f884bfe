"""Lead times stand beside the free times, each with its reason and source; what a finding says, only for some."""

from datetime import UTC, date, datetime, timedelta

import pytest
from django.urls import reverse

from clinic.accounts.models import User
from clinic.diary.leads import LeadTime, in_order
from tests.cast import NOW, Cast, sign_in
from tests.whitening.casebook import lived
from whitening.casebook.lead_times import earliest_for
from whitening.casebook.leads import cleaned_on
from whitening.cases.models import Case, VisitPurpose

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("clock")]
CLEANING, SESSION, REVIEW = VisitPurpose.CLEANING, VisitPurpose.SESSION, VisitPurpose.REVIEW


def words(user: User, case: Case, purpose: str = SESSION) -> str:
    page = sign_in(user).get(reverse("case_time", args=[case.pk, purpose])).content.decode()
    return " ".join(page.replace("<strong>", "").replace("</strong>", "").split())


def said(page: str, day: str, why: str) -> bool:
    """The day is an element of its own."""
    _before, found, after = page.partition(day)
    return bool(found) and after.startswith(f"</time>: {why}")


def test_a_cleaning_that_is_booked_is_kept_at_a_distance(cast: Cast) -> None:
    call = lived.called(cast, at=NOW)
    lived.book(call, CLEANING, earliest_at=datetime(2026, 3, 5, tzinfo=UTC), at=NOW)
    assert cleaned_on(call.case, now=NOW) == date(2026, 3, 5)
    page = words(cast.desk, call.case)
    assert "Better not before" in page
    assert said(page, "Thu 12 Mar 2026", "7 days after the scale and polish; sooner only where the dentist has looked")
    assert "provider pages in conflict (14 days, or none), no trial found" in page
    # It is advice: the search starts there, and an earlier day that somebody asks for is looked through.
    assert earliest_for(call.case, SESSION, now=NOW) == NOW
    client, address = sign_in(cast.desk), reverse("case_time", args=[call.case.pk, SESSION])
    assert client.get(address).context["openings"].found[0].day == date(2026, 3, 12)
    assert client.get(address + "?from_on=2026-03-09").context["openings"].found[0].day == date(2026, 3, 9)


def test_what_is_only_usual_says_so_in_two_words(cast: Cast) -> None:
    call = lived.called(cast, at=NOW)
    lived.book(call, VisitPurpose.CONSULTATION, earliest_at=datetime(2026, 3, 5, tzinfo=UTC), at=NOW)
    page = words(cast.desk, call.case)
    assert "1 day after the consultation, to think." in page
    assert '<span class="quiet-text">Common practice</span>' in page
    assert "no source" not in page


def test_a_cleaning_that_is_too_old_by_then_ends_the_search(cast: Cast) -> None:
    """Examined with teeth that were cleaned 30 days before: 150 days are left, and later 10."""
    life = lived.with_answers(cast)
    lived.examined(life)
    last_on = lived.MONDAY.date() - timedelta(days=30) + timedelta(days=180)
    client, address = sign_in(cast.desk), reverse("case_time", args=[life.case.pk, SESSION])
    near = client.get(f"{address}?from_on={last_on.isoformat()}").context["openings"].found
    assert [one.day for one in near if one.day > last_on] == []
    beyond = client.get(f"{address}?from_on={(last_on + timedelta(days=1)).isoformat()}")
    assert beyond.context["openings"].found == []


def test_what_a_finding_says_is_for_whoever_reads_the_answers(cast: Cast) -> None:
    case = lived.with_answers(cast, instead={"whitening_now": ["stopped"], "whitening_stopped_on": ["2026-02-25"]}).case
    finding = "Whitening at home at the same time"
    desk, dentist = words(cast.desk, case), words(cast.clinician, case)
    assert said(desk, "Wed 11 Mar 2026", "the reason stands with the answers.")
    assert finding not in desk
    assert said(dentist, "Wed 11 Mar 2026", finding)


def test_the_review_has_its_window(cast: Cast) -> None:
    call = lived.called(cast, at=NOW)
    lived.book(call, SESSION, earliest_at=datetime(2026, 3, 5, tzinfo=UTC), at=NOW)
    page = words(cast.desk, call.case, REVIEW)
    assert said(page, "Thu 2 Apr 2026", "day 28 after the last session")
    assert said(page, "Thu 16 Apr 2026", "day 42 after the last session; later is possible, and marked late")


def test_new_adhesive_work_waits_after_the_last_session(cast: Cast) -> None:
    """On the diary's own search, where such visits are booked."""
    call = lived.called(cast, at=NOW)
    address = reverse("find_time", args=[call.case.patient_id])
    assert "new adhesive work" not in sign_in(cast.desk).get(address).content.decode()
    lived.book(call, SESSION, earliest_at=datetime(2026, 3, 5, tzinfo=UTC), at=NOW)
    page = " ".join(sign_in(cast.desk).get(address).content.decode().split())
    assert said(page.replace("</strong>", ""), "Thu 19 Mar 2026", "new adhesive work (fillings, veneers, brackets): 14")
    assert "never under 7" in page


def test_the_one_that_decides_stands_first() -> None:
    def lead(why: str, first_on: date | None = None, last_on: date | None = None) -> LeadTime:
        return LeadTime(why=why, first_on=first_on, last_on=last_on)

    today = date(2026, 3, 3)
    leads = [
        lead("past", first_on=today),
        lead("soon", first_on=date(2026, 3, 4)),
        lead("late", first_on=date(2026, 3, 9)),
        lead("ends", last_on=date(2026, 3, 20)),
        lead("far", last_on=date(2026, 9, 1)),
    ]
    assert [one.why for one in in_order(leads, today=today, until=date(2026, 6, 1))] == ["late", "soon", "ends"]
