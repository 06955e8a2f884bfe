"""A blank form says by its foot which words it bears: those are sealed, and only where they were in use by then."""

from datetime import timedelta

import pytest
from django.urls import reverse

from tests.cast import Cast, sign_in
from tests.support import nothing_written
from tests.whitening import course
from tests.whitening.consent import onpaper
from tests.whitening.ownwords import LOOKS, checked, used, written
from whitening.cases.models import Case
from whitening.consent import versions
from whitening.consent.actions import PaperNotUsable
from whitening.consent.models import PaperReading
from whitening.consent.seals import is_unaltered
from whitening.consent.wording import shipped

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("quick_paper")]
NEWEST = shipped()["en"][-1]
DAY = timedelta(days=1)


@pytest.fixture(autouse=True)
def _at_signing(at_now: object) -> None:
    at_now.move_to(course.SIGNED_AT)  # type: ignore[attr-defined]  # the traveller of the fixture


@pytest.fixture
def case(cast: Cast) -> Case:
    return course.ready_to_sign(cast)


def test_the_words_that_were_printed_are_sealed(cast: Cast, case: Case) -> None:
    """Also where other words came into use between the printing and the day on which it is written down."""
    mark = onpaper.blank_mark()
    used(cast, written(cast))
    reading = onpaper.written_down(cast, case, what=onpaper.said(None, mark=f" {mark.upper()}"))
    row = onpaper.compared(cast, reading)
    assert row is not None
    assert (row.text.wording, row.text.language, LOOKS in row.text.body) == (NEWEST.version, "en", False)
    assert (versions.mark_of(row.text), is_unaltered(row)) == (mark, True)
    row.text.wording = "9"
    assert not is_unaltered(row)


@pytest.mark.parametrize("mark", [
    "", "en", "en-9-a1b2c3", f"en-{NEWEST.version}-{'0' * 6}", f"en-{NEWEST.version}-", f"e-{NEWEST.mark[3:]}",
])  # fmt: skip
def test_words_that_nobody_printed(cast: Cast, case: Case, mark: str) -> None:
    paper = onpaper.scanned(cast, case)
    with nothing_written(), pytest.raises(PaperNotUsable, match="No form with this wording was in use"):
        onpaper.written_down(cast, case, paper=paper, what=onpaper.said(None, mark=mark))


def test_words_that_came_into_use_after_the_signature(cast: Cast, case: Case) -> None:
    own = written(cast)
    used(cast, own, now=course.SIGNED_AT + DAY)
    paper, mark = onpaper.scanned(cast, case), versions.as_wording(own).mark
    with nothing_written(), pytest.raises(PaperNotUsable, match="by the day beside the signature"):
        onpaper.written_down(cast, case, paper=paper, what=onpaper.said(None, mark=mark))


def test_a_version_that_was_only_written_down(cast: Cast, case: Case) -> None:
    paper, mark = onpaper.scanned(cast, case), versions.as_wording(written(cast)).mark
    with nothing_written(), pytest.raises(PaperNotUsable, match="No form with this wording was in use"):
        onpaper.written_down(cast, case, paper=paper, what=onpaper.said(None, mark=mark))


def test_another_language_than_the_talks(cast: Cast, case: Case) -> None:
    own = written(cast, "de", 3)
    checked(cast, own)
    used(cast, own)
    paper, mark = onpaper.scanned(cast, case), onpaper.blank_mark("de")
    with nothing_written(), pytest.raises(PaperNotUsable, match="read in English, and this form is in German"):
        onpaper.written_down(cast, case, paper=paper, what=onpaper.said(None, mark=mark))


def test_it_is_asked_for_and_shown_to_the_second_reader(cast: Cast, case: Case) -> None:
    paper = onpaper.scanned(cast, case)
    address, assistant = reverse("consent_on_paper", args=[case.pk]), sign_in(cast.assistant)
    fields = {"paper": str(paper.pk), "form": "blank", "is_whole": "on", "signer_name": "AMARA NWOSU"}
    fields |= {"signed_on": "3 3 2026", "photo_record": "yes", "photo_teaching": "no"}
    fields |= {"photo_publication": "no", "photo_public": "no"}
    with nothing_written():
        answer = assistant.post(address, fields)
    assert (answer.status_code, "at the foot of the blank form" in answer.content.decode()) == (422, True)
    assert assistant.post(address, fields | {"mark": onpaper.blank_mark()}).status_code == 302
    assert PaperReading.objects.get().text.wording == NEWEST.version
    assert onpaper.blank_mark() in sign_in(cast.clinician).get(address).content.decode()
