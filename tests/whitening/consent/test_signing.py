"""Signing on the patient's own page, once, about exactly the words that were shown; countersigning."""

import json
from datetime import timedelta

import pytest
from django.test import Client
from django.urls import reverse

from clinic.trail.erasure import reveal
from clinic.trail.models import TrailEntry
from tests.answer import Answer
from tests.cast import NOW, Cast, actor_of, sign_in
from tests.support import nothing_written
from tests.whitening import course
from tests.whitening.ownrules import written_over
from tests.whitening.ownwords import LOOKS, used, written
from whitening.cases.actions import CaseClosed, close_case
from whitening.cases.models import Case, CloseReason
from whitening.consent import wording
from whitening.consent.actions import CannotSign, NameDiffers, sign
from whitening.consent.models import ConsentText, Countersignature, PhotoChoice, PhotoUse, Signature
from whitening.consent.reading import photo_choices, standing
from whitening.consent.seals import is_unaltered

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("quick_paper")]
SIGN = "/p/sign/"


@pytest.fixture(autouse=True)
def _at_signing(at_now: object) -> None:
    at_now.move_to(course.SIGNED_AT)  # type: ignore[attr-defined]  # the traveller of the fixture


@pytest.fixture
def case(cast: Cast) -> Case:
    return course.ready_to_sign(cast)


@pytest.fixture
def phone(cast: Cast, case: Case) -> Client:
    return course.phone_of(cast, course.visit_of(cast, case))


def filled(case: Case, **changed: str | None) -> dict[str, str]:
    fields: dict[str, str | None] = {
        "seen_sha256": course.pen(case).seen_sha256,
        "declared": "on",
        "name": "Amara Nwosu",
        "strokes": json.dumps(course.STROKES),
        "photo_record": "yes",
        "photo_teaching": "no",
        "photo_publication": "no",
        "photo_public": "no",
    }
    return {name: value for name, value in (fields | changed).items() if value is not None}


def send(phone: Client, case: Case, **changed: str | None) -> Answer:
    return phone.post(SIGN, filled(case, **changed), headers={"user-agent": "Mozilla/5.0 (iPhone) Mobile"})


def test_it_works(case: Case, phone: Client) -> None:
    page = phone.get(SIGN).content.decode()
    text = course.pen(case).seen_sha256
    assert f'name="seen_sha256" value="{text}"' in page
    assert send(phone, case)["Location"] == SIGN
    row = Signature.objects.get()
    assert (row.case, row.method, row.signer_name, row.device, row.zone) == (
        case, "strokes", "Amara Nwosu", "phone", "Europe/London",
    )  # fmt: skip
    assert (row.strokes, row.signed_at, row.text.sha256) == (course.STROKES, course.SIGNED_AT, text)
    assert row.photographs == {"record": True, "teaching": False, "publication": False, "public": False}
    assert is_unaltered(row)
    assert standing(case).signed_this_plan
    assert "Signed. Thank you." in phone.get(SIGN).content.decode()
    entry = TrailEntry.objects.get(verb="consent.signed")
    assert (entry.actor_kind, entry.patient_id) == ("patient", case.patient_id)


@pytest.mark.parametrize("large_print", [None, "on"])
def test_the_patient_chooses_how_large_the_letters_of_the_paper_are(
    case: Case, phone: Client, large_print: str | None
) -> None:
    send(phone, case, large_print=large_print)
    document = Signature.objects.get().document
    assert document is not None
    assert document.large_print is (large_print == "on")


def test_looking_writes_nothing(case: Case, phone: Client) -> None:
    with nothing_written():
        assert phone.get(SIGN).status_code == 200
    assert not ConsentText.objects.exists()


def test_wrong_method(phone: Client) -> None:
    with nothing_written():
        assert phone.put(SIGN).status_code == 405


def test_without_the_code_nothing_is_shown(cast: Cast, case: Case) -> None:
    phone = course.phone_of(cast, course.visit_of(cast, case), code_passed=False)
    with nothing_written():
        assert phone.get(SIGN)["Location"].startswith("/p/code/")
        assert send(phone, case).status_code in {302, 303}
        assert Client().get(SIGN).status_code == 410


def test_all_words_are_on_the_page(case: Case, phone: Client) -> None:
    page = " ".join(phone.get(SIGN).content.decode().split())
    for element in wording.shipped()["en"][-1].elements:
        assert f"</span> {element.heading}</h2>" in page
    for words in ("6 % hydrogen peroxide as used", "upper and lower arch", "15 minutes", "4 times", "400.00 GBP",
                  "That it looks natural.", "Cleo Haddad", "Two or three steps on the guide are likely."):  # fmt: skip
        assert words in page


def test_nothing_is_ticked_beforehand(phone: Client) -> None:
    page = phone.get(SIGN).content.decode()
    assert " checked" not in page
    assert page.count('type="radio"') == 8


MISSING = [
    ({"declared": None}, 422, "Tick the sentence above your signature"),
    ({"name": " "}, 422, "Write your full name."),
    ({"strokes": ""}, 409, "Sign in the box, or choose to sign by typing your name."),
    ({"strokes": "[[[500,150,0]]]"}, 409, "Sign in the box, or choose to sign by typing your name."),
    ({"strokes": "[[[1,2,3,4]]]"}, 422, "The signature could not be read."),
    ({"photo_record": None}, 422, "Say yes or no. Both are fine."),
    ({"photo_public": "perhaps"}, 422, "data-focus-errors"),
    ({"name": "x" * 201}, 422, "data-focus-errors"),
    ({"name": "\x00"}, 422, "data-focus-errors"),
    ({"seen_sha256": None}, 422, "data-focus-errors"),
    ({"seen_sha256": "0" * 64}, 409, "The text has changed since this page was opened."),
]


@pytest.mark.parametrize(("change", "status", "sentence"), MISSING)
def test_what_is_missing_is_said_and_the_rest_stays(
    case: Case, phone: Client, change: dict[str, str | None], status: int, sentence: str
) -> None:
    with nothing_written():
        refused = send(phone, case, **{"photo_teaching": "yes"} | change)
    assert refused.status_code == status
    page = refused.content.decode()
    assert sentence in page
    assert page.count(" checked") >= 3
    # The page that says so is about the words as they stand, so that it can simply be sent again.
    assert f'name="seen_sha256" value="{course.pen(case).seen_sha256}"' in page


@pytest.mark.parametrize("name", ["Amara O’Nwosu-Łukasz", "أمارا نوسو", "Amara 🦷 Nwosu", "A" * 200])
def test_names_of_all_kinds(case: Case, phone: Client, name: str) -> None:
    case.patient.name = name
    case.patient.save(update_fields=["name"])
    send(phone, case, name=name)
    assert is_unaltered(Signature.objects.get(signer_name=name))


@pytest.mark.parametrize("name", ["NWOSU, AMARA", "amara nwosu", " Ámara  Nwosu "])
def test_capitals_accents_and_order_are_no_other_name(case: Case, phone: Client, name: str) -> None:
    assert send(phone, case, name=name).status_code == 302
    assert "another_name" not in reveal(TrailEntry.objects.get(verb="consent.signed"))


def test_another_name_is_asked_about_once(cast: Cast, case: Case, phone: Client) -> None:
    with nothing_written():
        asked = send(phone, case, name="Amara Okafor")
    page = asked.content.decode()
    assert (asked.status_code, "The practice knows you as Amara Nwosu." in page) == (422, True)
    assert 'name="name_asked" value="Amara Okafor"' in page
    # What was drawn and chosen stays.
    assert page.count(" checked") >= 4
    with nothing_written():
        again = send(phone, case, name="Amara Obi", name_asked="Amara Okafor")
    assert 'name="name_asked" value="Amara Obi"' in again.content.decode()
    assert send(phone, case, name="Amara Okafor", name_asked="Amara Okafor").status_code == 302
    signature = Signature.objects.get()
    assert (signature.signer_name, is_unaltered(signature)) == ("Amara Okafor", True)
    assert reveal(TrailEntry.objects.get(verb="consent.signed"))["another_name"] == "Amara Okafor"  # type: ignore[index]
    # Whoever countersigns sees it beside the signature.
    where = reverse("consent", args=[case.pk])
    assert "not the name in the register" in sign_in(cast.clinician).get(where).content.decode()


def test_a_name_that_was_not_asked_about_signs_nothing(cast: Cast, case: Case) -> None:
    with nothing_written(), pytest.raises(NameDiffers):
        course.signed(cast, case, name="Amara Okafor")


def test_typing_the_name_with_the_intent_declared(case: Case, phone: Client) -> None:
    send(phone, case, strokes="", typed="on")
    row = Signature.objects.get()
    assert (row.method, row.strokes, row.signer_name) == ("typed", [], "Amara Nwosu")


def test_who_says_typed_has_typed_whatever_the_box_holds(case: Case, phone: Client) -> None:
    send(phone, case, typed="on")
    row = Signature.objects.get()
    assert (row.method, row.strokes) == ("typed", [])


def test_the_plan_changed_between_reading_and_signing(cast: Cast, case: Case, phone: Client) -> None:
    fields = filled(case)
    course.planned(cast, case, cycles_per_session=5)
    with nothing_written():
        refused = phone.post(SIGN, fields)
    assert refused.status_code == 409
    assert "First the dentist looks, plans and talks it through with you." in refused.content.decode()
    course.talked(cast, case)
    with nothing_written():
        refused = phone.post(SIGN, fields)
    assert refused.status_code == 409
    assert "The text has changed since this page was opened." in refused.content.decode()
    assert send(phone, case).status_code == 302


def test_the_talk_changed_between_reading_and_signing(cast: Cast, case: Case, phone: Client) -> None:
    fields = filled(case)
    course.talked(cast, case, now=course.TALKED_AT + timedelta(minutes=1), what_matters="Not too white.")
    with nothing_written():
        refused = phone.post(SIGN, fields)
    assert refused.status_code == 409
    assert "Not too white." in refused.content.decode()


def test_signed_twice_is_signed_once(case: Case, phone: Client) -> None:
    fields = filled(case)
    phone.post(SIGN, fields)
    with nothing_written():
        assert "Signed. Thank you." in phone.post(SIGN, fields).content.decode()
    assert Signature.objects.count() == 1


def test_the_action_itself_refuses_a_second_signature(cast: Cast, case: Case) -> None:
    given = course.pen(case)
    course.signed(cast, case)
    with nothing_written(), pytest.raises(CannotSign, match="This is signed already"):
        sign(case=case, given=given, actor=course.themselves(cast), now=course.SIGNED_AT)


def test_photographs_must_be_answered_one_by_one(cast: Cast, case: Case) -> None:
    with nothing_written(), pytest.raises(CannotSign, match="for each use of photographs"):
        course.signed(cast, case, photographs={PhotoUse.RECORD: True})


def test_a_closed_case_is_not_signed(cast: Cast, case: Case) -> None:
    given = course.pen(case)
    close_case(case=case, reason=CloseReason.MOVED_AWAY, words="", actor=actor_of(cast.desk), now=NOW)
    with nothing_written(), pytest.raises((CannotSign, CaseClosed)):
        sign(case=case, given=given, actor=course.themselves(cast), now=course.SIGNED_AT)


def test_cooling_off(cast: Cast, case: Case, phone: Client) -> None:
    """A practice may ask for days between; of the places in the data none does for an adult."""
    written_over(cast, cooling_off_days="7")
    with nothing_written():
        answer = phone.get(SIGN)
        refused = send(phone, case)
    assert "You can sign from Tue 10 Mar 2026 on." in answer.content.decode()
    assert refused.status_code == 409
    page = sign_in(cast.clinician).get(reverse("consent", args=[case.pk])).content.decode()
    assert "You can sign from Tue 10 Mar 2026 on." in page


def test_countersigning(cast: Cast, case: Case, phone: Client) -> None:
    send(phone, case)
    address = reverse("consent_countersign", args=[case.pk])
    for who in ("desk", "assistant", "hygienist", "manager"):
        client = sign_in(getattr(cast, who))
        with nothing_written():
            assert client.post(address).status_code == 403
    elsewhere = sign_in(cast.elsewhere)
    with nothing_written():
        assert elsewhere.post(address).status_code == 404
    dentist = sign_in(cast.clinician)
    assert dentist.post(address)["Location"] == reverse("case", args=[case.pk])
    row = Countersignature.objects.get()
    assert (row.countersigned_by, row.countersigned_at) == (cast.clinician, course.SIGNED_AT)
    assert standing(case).agreed
    with nothing_written():
        assert dentist.post(address).status_code == 409


def test_nothing_to_countersign(cast: Cast, case: Case, phone: Client) -> None:
    address = reverse("consent_countersign", args=[case.pk])
    dentist = sign_in(cast.clinician)
    with nothing_written():
        assert dentist.post(address).status_code == 409
    send(phone, case)
    course.planned(cast, case, cycles_per_session=5)
    with nothing_written():
        assert dentist.post(address).status_code == 409


def test_what_was_chosen_holds(case: Case, phone: Client) -> None:
    send(phone, case)
    assert photo_choices(case) == {
        PhotoUse.RECORD: True, PhotoUse.TEACHING: False, PhotoUse.PUBLICATION: False, PhotoUse.PUBLIC: False,
    }  # fmt: skip
    assert PhotoChoice.objects.count() == 4


def test_words_that_changed_while_the_page_was_open_are_read_again(cast: Cast, case: Case, phone: Client) -> None:
    """The practice took a new version into use meanwhile: nothing is signed, and what is new is pointed at."""
    phone.get(SIGN)
    opened = {"seen_sha256": course.pen(case).seen_sha256, "seen_wording": "2"}
    used(cast, written(cast))
    with nothing_written():
        refused = send(phone, case, **opened)
    page = " ".join(refused.content.decode().split())
    assert refused.status_code == 409
    assert "The text has changed since this page was opened. Read it again, then sign." in page
    assert page.count("Worded anew since you opened this page.") == 1
    assert page.index("Worded anew") < page.index(LOOKS) < page.index("What to expect")
    # With a version that was never shown, or other facts, nothing is pointed at.
    for unknown in ({"seen_wording": "7"}, {"seen_sha256": "0" * 64}):
        with nothing_written():
            assert "Worded anew" not in send(phone, case, **opened | unknown).content.decode()
    assert send(phone, case, seen_wording="2.1").status_code == 302
    assert Signature.objects.get().text.wording == "2.1"


def test_what_is_signed_keeps_its_words(cast: Cast, case: Case, phone: Client) -> None:
    send(phone, case)
    before = Signature.objects.get()
    used(cast, written(cast))
    after = Signature.objects.get()
    assert (after.text.body, after.text.wording, after.sha256) == (before.text.body, "2", before.sha256)
    assert is_unaltered(after)
    assert LOOKS not in after.text.body
    assert standing(case).signed_this_plan
    page = sign_in(cast.clinician).get(reverse("consent", args=[case.pk])).content.decode()
    assert reverse("wording_version", args=["en", "2"]) in page
