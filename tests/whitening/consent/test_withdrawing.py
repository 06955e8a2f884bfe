"""Withdrawing in one tap, by the patient or on the patient's word; photographs, chosen and taken back."""

from datetime import timedelta

import pytest
from django.test import Client
from django.urls import reverse

from tests.cast import Cast, sign_in
from tests.support import nothing_written
from tests.whitening import course
from whitening.cases.models import Case
from whitening.consent.models import PhotoUse, Withdrawal
from whitening.consent.reading import photo_choices, standing

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("quick_paper")]
WITHDRAW = "/p/sign/withdraw/"


@pytest.fixture(autouse=True)
def _at_signing(at_now: object) -> None:
    at_now.move_to(course.SIGNED_AT)  # type: ignore[attr-defined]  # the traveller of the fixture


@pytest.fixture
def case(cast: Cast) -> Case:
    case = course.ready_to_sign(cast)
    course.signed(cast, case)
    course.countersigned(cast, case)
    return case


@pytest.fixture
def phone(cast: Cast, case: Case) -> Client:
    """Without a code: who wants to stop is not held up."""
    return course.phone_of(cast, course.visit_of(cast, case), code_passed=False)


def test_it_works(case: Case, phone: Client) -> None:
    assert standing(case).agreed
    answer = phone.post(WITHDRAW)
    assert answer.status_code == 200
    assert "Your consent is withdrawn" in answer.content.decode()
    row = Withdrawal.objects.get()
    assert (row.withdrawn_at, row.withdrawn_by, row.words) == (course.SIGNED_AT, "Amara Nwosu", "")
    held = standing(case)
    assert not held.signed_this_plan
    assert held.facts().withdrawn


def test_it_is_easy_to_find(case: Case, phone: Client) -> None:
    assert f'href="{WITHDRAW}"' in phone.get(reverse("before_visit")).content.decode()
    page = phone.get(WITHDRAW).content.decode()
    assert "You need not say why." in page
    with_code = course.phone_of(case_cast(case), case.visits.get().booking)
    assert f'action="{WITHDRAW}"' in with_code.get(reverse("sign")).content.decode()


def case_cast(case: Case) -> Cast:
    """Only what phone_of asks of a cast."""
    return type("Held", (), {"patient": case.patient, "fernbrook": case.site, "desk": case.opened_by})  # type: ignore[return-value]


def test_twice_is_said_and_changes_nothing(case: Case, phone: Client) -> None:
    phone.post(WITHDRAW)
    with nothing_written():
        again = phone.post(WITHDRAW)
    assert again.status_code == 409
    assert "This consent is withdrawn already." in again.content.decode()
    with nothing_written():
        assert "Nothing is signed" in phone.get(WITHDRAW).content.decode()


def test_nothing_to_withdraw(cast: Cast) -> None:
    case = course.ready_to_sign(cast)
    phone = course.phone_of(cast, course.visit_of(cast, case), code_passed=False)
    with nothing_written():
        assert phone.post(WITHDRAW).status_code == 409


def test_signing_again_needs_a_talk_of_its_own(cast: Cast, case: Case, phone: Client) -> None:
    phone.post(WITHDRAW)
    with_code = course.phone_of(cast, case.visits.get().booking)
    page = with_code.get(reverse("sign")).content.decode()
    assert "You withdrew your consent." in page
    staff_page = sign_in(cast.clinician).get(reverse("consent", args=[case.pk])).content.decode()
    assert "Talk again, and record it" in staff_page


def test_after_another_talk_it_can_be_signed_again_and_withdrawn_again(
    cast: Cast, case: Case, phone: Client, at_now: object
) -> None:
    phone.post(WITHDRAW)
    later = course.SIGNED_AT + timedelta(minutes=20)
    at_now.move_to(later)  # type: ignore[attr-defined]  # the traveller of the fixture
    course.talked(cast, case, now=later)
    course.signed(cast, case, now=later)
    assert standing(case).signed_this_plan
    assert not standing(case).agreed
    assert phone.post(WITHDRAW).status_code == 200
    assert Withdrawal.objects.count() == 2


@pytest.mark.parametrize("who", ["desk", "assistant", "clinician", "hygienist"])
def test_staff_on_the_patients_word(cast: Cast, case: Case, who: str) -> None:
    user = getattr(cast, who)
    client = sign_in(user)
    answer = client.post(reverse("consent_withdraw", args=[case.pk]), {"words": "She said so on the telephone."})
    assert answer.status_code == 302
    # Whoever may not read the consent is not led to it.
    assert answer["Location"] == reverse("case" if who == "desk" else "consent", args=[case.pk])
    row = Withdrawal.objects.get()
    assert (row.withdrawn_by, row.words) == (user.name, "She said so on the telephone.")
    with nothing_written():
        again = client.post(reverse("consent_withdraw", args=[case.pk]))
    assert again.status_code == 409
    page = again.content.decode()
    assert "withdrawn already" in page
    assert "looks natural" not in page


def test_wrong_role(cast: Cast, case: Case) -> None:
    client = sign_in(cast.manager)
    with nothing_written():
        assert client.post(reverse("consent_withdraw", args=[case.pk])).status_code == 403
        assert client.post(reverse("consent_photographs", args=[case.pk]), {"use": "record"}).status_code == 403


def test_other_site(cast: Cast, case: Case) -> None:
    client = sign_in(cast.elsewhere)
    with nothing_written():
        assert client.post(reverse("consent_withdraw", args=[case.pk])).status_code == 404


@pytest.mark.parametrize("words", ["x" * 501, "\x00"])
def test_bad_words(cast: Cast, case: Case, words: str) -> None:
    client = sign_in(cast.desk)
    with nothing_written():
        assert client.post(reverse("consent_withdraw", args=[case.pk]), {"words": words}).status_code == 422


def test_photographs_are_changed_by_the_patient_one_by_one(cast: Cast, case: Case) -> None:
    phone = course.phone_of(cast, case.visits.get().booking if case.visits.exists() else course.visit_of(cast, case))
    page = phone.get(reverse("photographs")).content.decode()
    assert page.count(" checked") == 4
    choices = {"photo_record": "no", "photo_teaching": "yes", "photo_publication": "no", "photo_public": "no"}
    assert phone.post(reverse("photographs"), choices)["Location"] == reverse("before_visit")
    held = photo_choices(case)
    assert (held[PhotoUse.RECORD], held[PhotoUse.TEACHING]) == (False, True)
    # The consent to the treatment is another matter.
    assert standing(case).agreed
    with nothing_written():
        assert phone.post(reverse("photographs"), choices | {"photo_public": ""}).status_code == 422


def test_nothing_is_ticked_where_nothing_was_chosen(cast: Cast) -> None:
    case = course.ready_to_sign(cast)
    phone = course.phone_of(cast, course.visit_of(cast, case))
    assert " checked" not in phone.get(reverse("photographs")).content.decode()
    assert set(photo_choices(case).values()) == {None}


def test_a_use_is_taken_back_in_one_tap(cast: Cast, case: Case) -> None:
    address, client = reverse("consent_photographs", args=[case.pk]), sign_in(cast.desk)
    assert client.post(address, {"use": "record"}).status_code == 302
    assert photo_choices(case)[PhotoUse.RECORD] is False
    assert standing(case).agreed
    with nothing_written():
        # Staff take back and never allow.
        assert client.post(address, {"use": "record"}).status_code == 409
        assert client.post(address, {"use": "teaching"}).status_code == 409
        assert client.post(address, {"use": "nonsense"}).status_code == 422
