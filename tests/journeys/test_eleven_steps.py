"""One whole case, from the phone call to the month review, as four people live it; on both kinds of installation."""

from collections.abc import Iterator
from datetime import datetime, time, timedelta

import pytest

from tests.browser import Watched
from tests.journeys import clinic_acts, clockwork, desk_acts, patient_acts
from tests.journeys.person import Person, sign_in
from tests.journeys.story import LONDON, Story
from tests.world import World

pytestmark = [pytest.mark.world, pytest.mark.journey, pytest.mark.timeout(1200)]


@pytest.fixture
def story(furnished_world: World, watched_browser: Watched, request: pytest.FixtureRequest) -> Iterator[Story]:
    address, looks = furnished_world.address, request.cls is TestOnAServer
    # The desk tries to register somebody twice and is refused.
    watched_browser.expected.append(r"console: .*status of 422")
    desk = sign_in(watched_browser.open(address), "dana@example.org", looks_at_access=looks)
    tablet = watched_browser.open(address, device="tablet")
    clinician = sign_in(tablet, "cleo@example.org", factor=True, looks_at_access=looks)
    with clockwork.running(furnished_world) as clock:
        yield Story(furnished_world, watched_browser, desk, clinician, clock)


class ACase:
    def test_from_the_call_to_the_review(self, story: Story) -> None:
        story.clock(desk_acts.next_monday(time(9, 5)))
        patient = the_call_and_the_questions(story)
        the_consultation(story, patient)
        the_session(story)
        the_two_day_check(story)
        the_review(story)
        story.world.manage("trail_seal")
        # Ends with 1 unless the whole chain is whole.
        assert "The trail holds" in story.world.manage("trail_verify")


# A class for each, so that a run with two workers gives one to each of them.
@pytest.mark.parametrize("furnished_world", ["server"], indirect=True)
class TestOnAServer(ACase):
    """PostgreSQL and Redis."""


@pytest.mark.parametrize("furnished_world", ["embedded"], indirect=True)
class TestEmbedded(ACase):
    """SQLite, and a folder as broker."""


def the_call_and_the_questions(story: Story) -> Person:
    desk_acts.somebody_under_18(story)
    desk_acts.the_call(story)
    assert story.desk.done <= 20
    desk_acts.the_same_person_again(story)
    desk_acts.what_is_missing(story, "Answers missing")
    return patient_acts.before_the_visit(story)


def the_consultation(story: Story, patient: Person) -> None:
    story.clock(story.consultation_at)
    desk_acts.receives(story, called="Consultation")
    clinic_acts.examines_and_plans(story)
    clinic_acts.agrees(story, patient)
    desk_acts.confirms_the_time(story)


def the_session(story: Story) -> None:
    story.clock(story.session_at - timedelta(minutes=5))
    desk_acts.receives(story, called="Whitening session")
    clinic_acts.comes_too_early(story)
    taps = clinic_acts.treats(story)
    assert taps <= 40
    clinic_acts.the_sheet(story)
    assert story.link_in(story.mail("Your page from"))


def the_two_day_check(story: Story) -> None:
    """Ten in the morning on the practice's wall clock, two days on; not a minute earlier."""
    second_day = (story.session_at.astimezone(LONDON) + timedelta(days=2)).date()
    ten = datetime.combine(second_day, time(10), tzinfo=LONDON)
    story.clock(ten - timedelta(minutes=5), swept=True)
    assert story.mails("How are you?") == []
    story.clock(ten + timedelta(minutes=1), swept=True)
    patient = patient_acts.says_all_is_well(story, nth=0)
    patient_acts.worries(story, patient)
    clinic_acts.answers_the_worry(story)
    # Asked again two days after an answer that worried.
    story.clock(ten + timedelta(days=2, minutes=1), swept=True)
    patient_acts.says_all_is_well(story, nth=1)


def until_the_invitation(story: Story) -> None:
    """Due on day 21 at ten; public holidays are left out, so it may be some days later."""
    first_on = story.session_at.astimezone(LONDON).date() + timedelta(days=21)
    for later in range(7):
        story.clock(datetime.combine(first_on + timedelta(days=later), time(10, 1), tzinfo=LONDON), swept=True)
        if story.mails("Pick a time"):
            return


def the_review(story: Story) -> None:
    until_the_invitation(story)
    patient_acts.picks_a_time(story)
    desk_acts.moves_the_review(story)
    days = (story.review_at.astimezone(LONDON).date() - story.session_at.astimezone(LONDON).date()).days
    assert 28 <= days <= 42
    story.clock(story.review_at)
    desk_acts.receives(story, called="Month review")
    clinic_acts.reviews(story)
