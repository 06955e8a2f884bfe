"""A clinician puts a case off until a day, with a reason; lead times respect it, and it can be lifted."""

from datetime import date, timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from clinic.accounts.rights import CoverRunOut, NotAllowed
from clinic.trail.models import TrailEntry
from tests.cast import NOW, Cast, actor_of, sign_in
from tests.support import nothing_written
from tests.whitening.casebook import lived
from whitening.casebook.lead_times import earliest_for
from whitening.cases import actions
from whitening.cases.models import Case, CloseReason, VisitPurpose

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("clock")]
UNTIL, WHY = date(2026, 3, 20), "Ulcers, look again first."
SESSION = VisitPurpose.SESSION


@pytest.fixture
def case(cast: Cast) -> Case:
    return lived.called(cast, at=NOW).case


def words(client: Client, name: str, *args: object) -> str:
    page = client.get(reverse(name, args=args)).content.decode()
    return " ".join(page.replace("<strong>", "").replace("</strong>", "").split())


def send(client: Client, case: Case, **changes: object) -> Any:
    sent = {"until": UNTIL.isoformat(), "reason": WHY, "version": case.version} | changes
    return client.post(reverse("case_put_off", args=[case.pk]), sent)


def lift(client: Client, case: Case, **changes: object) -> str:
    sent = {"version": case.version} | changes
    return str(client.post(reverse("case_put_off_lift", args=[case.pk]), sent, follow=True).content.decode())


def verbs() -> list[str]:
    return list(
        TrailEntry.objects.filter(verb__startswith="cases.put_off").order_by("pk").values_list("verb", flat=True)
    )


def test_put_off_and_lifted(cast: Cast, case: Case) -> None:
    dentist, desk = sign_in(cast.clinician), sign_in(cast.desk)
    assert "Put the case off until a day" not in words(desk, "case", case.pk)
    assert send(dentist, case).status_code == 302
    case.refresh_from_db()
    assert (case.deferred_until, case.deferred_because, case.deferred_by) == (UNTIL, WHY, cast.clinician.name)
    assert earliest_for(case, SESSION, now=NOW).date() == UNTIL
    said = "Put off until Fri 20 Mar 2026 by Cleo Haddad: no session before that day."
    for client, reads in ((dentist, True), (desk, False)):
        page = words(client, "case", case.pk)
        assert said in page
        assert (WHY in page) == reads
        free = words(client, "case_time", case.pk, SESSION)
        assert "put off by Cleo Haddad" in free
        assert (WHY in free) == reads
    found = desk.get(reverse("case_time", args=[case.pk, SESSION])).context["openings"].found
    assert found[0].day >= UNTIL
    with nothing_written():
        # From a page that is older than what a colleague decided since.
        old = lift(dentist, case, version=case.version - 1)
    assert "A colleague has changed this case meanwhile." in old
    lift(dentist, case)
    case.refresh_from_db()
    assert (case.deferred_until, case.deferred_because, case.deferred_by) == (None, "", "")
    assert earliest_for(case, SESSION, now=NOW) == NOW
    assert said not in words(dentist, "case", case.pk)
    assert verbs() == ["cases.put_off", "cases.put_off_lifted"]
    with nothing_written():
        again = lift(dentist, case)
    assert "This case is not put off any more." in again


def test_what_is_refused_keeps_what_was_typed(cast: Cast, case: Case) -> None:
    dentist = sign_in(cast.clinician)
    with nothing_written():
        for changes, status, sentence in (
            ({"until": ""}, 422, "Pick the day until which"),
            ({"until": "soon"}, 422, "That is not a date."),
            ({"until": NOW.date()}, 409, "until a day after today"),
            ({"until": date(2029, 1, 1)}, 409, "within two years"),
            ({"reason": " "}, 422, "Write why"),
            ({"version": case.version + 1}, 409, "A colleague has changed this case meanwhile."),
            ({"version": ""}, 422, ""),
        ):
            answer = send(dentist, case, **changes)
            page = answer.content.decode()
            assert (answer.status_code, sentence in page) == (status, True)
            assert (WHY in page) == ("reason" not in changes)


def test_who_may_not(cast: Cast, case: Case) -> None:
    def put_off(user: Any) -> None:
        actions.put_off(
            case=case, until=UNTIL, reason=WHY, version=case.version, user=user, actor=actor_of(user), now=NOW
        )

    dentist = cast.clinician
    dentist.registration_expires_on = NOW.date() - timedelta(days=1)
    for user, refusal in ((cast.desk, NotAllowed), (cast.hygienist, NotAllowed), (dentist, CoverRunOut)):
        with nothing_written(), pytest.raises(refusal):
            put_off(user)
        with nothing_written(), pytest.raises(refusal):
            actions.lift(case=case, version=case.version, user=user, actor=actor_of(user), now=NOW)


def test_of_a_closed_case(cast: Cast, case: Case) -> None:
    lived.put_off(cast, case, UNTIL)
    actions.close_case(case=case, reason=CloseReason.MOVED_AWAY, words="", actor=actor_of(cast.desk), now=NOW)
    dentist = sign_in(cast.clinician)
    with nothing_written():
        assert send(dentist, case).status_code == 409
    page = words(dentist, "case", case.pk)
    assert "Put off until" not in page
    assert "Put the case off" not in page
