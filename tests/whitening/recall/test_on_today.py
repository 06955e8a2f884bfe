"""Worrying answers and calls reach an open Today with its next question; a call of tomorrow is not one of today."""

from datetime import datetime, timedelta

import pytest
import time_machine
from django.urls import reverse

from clinic.messages.health import SWEEP, beat
from tests.cast import NOW, Cast, actor_of, sign_in
from tests.whitening.casebook import lived
from tests.whitening.recall import afterwards
from whitening.casebook.today_live import live_tag
from whitening.consent.actions import withdraw
from whitening.recall.actions import close_escalation, take_escalation
from whitening.recall.models import FollowUpKind

pytestmark = pytest.mark.django_db


def test_each_step_of_a_worrying_answer_changes_the_tag(cast: Cast) -> None:
    afterwards.a_closed_session(cast)
    tags = [live_tag(cast.fernbrook, now=NOW)]
    assert live_tag(cast.fernbrook, now=NOW) == tags[0]
    escalation = afterwards.an_escalation(cast)
    tags.append(live_tag(cast.fernbrook, now=NOW))
    dentist = actor_of(cast.clinician)
    take_escalation(escalation=escalation, user=cast.clinician, actor=dentist, now=NOW)
    tags.append(live_tag(cast.fernbrook, now=NOW))
    close_escalation(escalation=escalation, words="Called back.", user=cast.clinician, actor=dentist, now=NOW)
    tags.append(live_tag(cast.fernbrook, now=NOW))
    # Another site hears of nothing.
    assert len({live_tag(cast.alderton, now=NOW)} | set(tags)) == 1 + len(set(tags))
    assert tags[0] == tags[3]
    assert tags[1] != tags[0]


def test_a_promised_call_stands_on_its_own_day(cast: Cast) -> None:
    session = afterwards.a_closed_session(cast, needs_call=True)
    assert afterwards.follow_up(session, FollowUpKind.NEXT_DAY_CALL).due_at.date() == NOW.date() + timedelta(days=1)
    with time_machine.travel(NOW, tick=False):
        page = sign_in(cast.clinician).get(reverse("today"))
    assert list(page.context["page"].calls) == []
    with time_machine.travel(NOW + timedelta(hours=20), tick=False):
        page = sign_in(cast.clinician).get(reverse("today"))
    assert [one.kind for one in page.context["page"].calls] == [FollowUpKind.NEXT_DAY_CALL]


def test_a_call_to_make_shows_no_number_that_is_known_to_be_wrong(cast: Cast) -> None:
    session = afterwards.a_closed_session(cast, needs_call=True)
    patient = session.case.patient

    def calls() -> str:
        with time_machine.travel(NOW + timedelta(hours=20), tick=False):
            page = sign_in(cast.desk).get(reverse("today")).content.decode()
        return page.split("Calls to make")[1].split("</section>")[0]

    assert f'href="tel:{patient.phone.as_e164}"' in calls()
    # Where the call is logged.
    assert f'href="{reverse("followups")}"' in calls()
    patient.phone_wrong_at = NOW
    patient.save()
    assert "tel:" not in calls()
    assert "wrong number" in calls()


def test_a_call_that_becomes_due_changes_the_tag(cast: Cast) -> None:
    session = afterwards.a_closed_session(cast, needs_call=True)
    before = live_tag(cast.fernbrook, now=NOW).split(".")[0]
    tomorrow = NOW + timedelta(hours=20)
    assert session.closed_at == NOW
    assert live_tag(cast.fernbrook, now=tomorrow).split(".")[0] != before


def test_a_consent_that_is_withdrawn_changes_the_tag(cast: Cast) -> None:
    """The gate mark beside the visit is another one then."""
    case = lived.agreed(cast)
    lived.here(case)
    before = live_tag(cast.fernbrook, now=NOW)
    withdraw(case=case.case, words="", actor=actor_of(cast.assistant), now=NOW)
    after = live_tag(cast.fernbrook, now=NOW)
    assert after != before
    # In silence: nobody moved a visit.
    assert after.partition(".")[0] == before.partition(".")[0]


class TestMessagesThatDoNotGoOut:
    """Today says so in words, before anybody has looked at /health/."""

    def words(self, cast: Cast, *, at: datetime) -> str:
        with time_machine.travel(at, tick=False):
            return sign_in(cast.desk).get(reverse("today")).content.decode()

    def test_all_is_well(self, cast: Cast) -> None:
        beat(SWEEP, real_now=NOW)
        words = self.words(cast, at=NOW)
        assert "Messages to patients are stuck" not in words
        assert "does not answer" not in words

    def test_the_oldest_is_late(self, cast: Cast) -> None:
        afterwards.a_closed_session(cast)
        at = NOW + timedelta(minutes=12)
        beat(SWEEP, real_now=at)
        assert "are stuck: the oldest should have gone out 12 min ago" in self.words(cast, at=at)

    def test_the_loop_is_silent(self, cast: Cast) -> None:
        beat(SWEEP, real_now=NOW - timedelta(minutes=3))
        assert "The program that sends messages to patients does not answer." in self.words(cast, at=NOW)
