"""Signing in another language: only words that somebody is recorded to have checked, to the letter."""

import json
from datetime import timedelta

import pytest
from django.test import Client
from django.urls import reverse

from clinic.trail.models import TrailEntry
from tests.answer import Answer
from tests.cast import NOW, Cast, sign_in
from tests.catalogues import Catalogues
from tests.support import nothing_written
from tests.whitening import course
from tests.whitening.chairside import chairs
from tests.whitening.ownwords import by, checked, rows, used, written
from whitening.cases.models import Case
from whitening.consent import versions
from whitening.consent.actions import (
    CannotSign,
    CheckDetails,
    CheckIncomplete,
    LanguageNotReady,
    NotChecked,
    record_check,
    sign,
    write_wording,
)
from whitening.consent.models import Signature, Talk, TranslationCheck
from whitening.consent.seals import is_unaltered
from whitening.consent.wording import Wording, shipped

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("at_now", "quick_paper")]
GERMAN = shipped()["de"][-1]
CHECK = {"name": "Ines Weber", "qualification": "sworn translator", "checked_on": "2026-03-02"}


@pytest.fixture
def case(cast: Cast) -> Case:
    """Of a patient who reads German, in a program that speaks it whole."""
    case = chairs.a_case(cast)
    course.answered(cast, case)
    course.examined(cast, case)
    course.planned(cast, case)
    cast.patient.language = "de"
    cast.patient.save()
    case.refresh_from_db()
    return case


@pytest.fixture
def dentist(cast: Cast, catalogues: Catalogues) -> Client:
    catalogues.install("de")
    return sign_in(cast.clinician)


@pytest.fixture
def manager(cast: Cast) -> Client:
    return sign_in(cast.manager)


def talk(client: Client, case: Case, language: str = "de") -> Answer:
    fields = {"can_decide": "yes", "interpreter": "none", "language": language}
    return client.post(reverse("consent_talk", args=[case.pk]), fields)


def record(client: Client, label: str = GERMAN.version, **changed: str) -> Answer:
    return client.post(reverse("wording_check", args=["de", label]), CHECK | changed)


def check(cast: Cast, wording: Wording = GERMAN) -> None:
    details = CheckDetails(name="Ines Weber", qualification="sworn translator", checked_on=NOW.date())
    record_check(language="de", label=wording.version, details=details, now=NOW, **by(cast))


def test_nobody_signs_in_it_before_the_check_is_recorded(
    cast: Cast, case: Case, dentist: Client, manager: Client, at_now: object
) -> None:
    with nothing_written():
        refused = talk(dentist, case)
    assert refused.status_code == 409
    page = refused.content.decode()
    assert "The consent cannot be signed in German yet" in page
    assert "It is recorded under Set-up, words of the consent." in " ".join(page.split())
    assert "German: record who checked the translation." in manager.get(reverse("setup")).content.decode()

    assert record(manager)["Location"] == reverse("wording_version", args=["de", GERMAN.version])
    row = TranslationCheck.objects.get()
    assert (row.name, row.qualification, row.sha256) == ("Ines Weber", "sworn translator", GERMAN.sha256)
    assert (row.recorded_by, TrailEntry.objects.latest("pk").verb) == (cast.manager, "consent.translation_checked")
    assert "German: record who" not in manager.get(reverse("setup")).content.decode()

    assert talk(dentist, case).status_code == 302
    assert Talk.objects.get().language == "de"
    at_now.move_to(course.SIGNED_AT)  # type: ignore[attr-defined]  # the traveller of the fixture
    phone = course.phone_of(cast, course.visit_of(cast, case))
    shown = phone.get("/p/sign/").content.decode()
    for element in GERMAN.elements:
        assert f"</span> {element.heading}</h2>" in shown
    sent = {f"photo_{use}": "no" for use in ("record", "teaching", "publication", "public")}
    sent |= {"seen_sha256": course.pen(case).seen_sha256, "declared": "on", "name": "Amara Nwosu"}
    assert phone.post("/p/sign/", sent | {"strokes": json.dumps(course.STROKES)}).status_code == 302
    signature = Signature.objects.get()
    assert (signature.text.language, signature.text.wording) == ("de", GERMAN.version)
    assert is_unaltered(signature)


def test_the_programs_language_may_be_chosen_instead(cast: Cast, case: Case, dentist: Client) -> None:
    page = dentist.get(reverse("consent", args=[case.pk])).content.decode()
    assert page.count('name="language"') == 2
    assert talk(dentist, case, "en").status_code == 302
    assert Talk.objects.get().language == "en"
    said = dentist.get(reverse("consent", args=[case.pk])).content.decode()
    assert "No checked translation of the consent is here" in said
    assert "<dt>Reads and signs in</dt><dd>English</dd>" in said


def test_what_is_not_offered_is_not_chosen(case: Case, dentist: Client, cast: Cast) -> None:
    with nothing_written():
        assert talk(dentist, case, "es").status_code == 422
        with pytest.raises(LanguageNotReady):
            course.talked(cast, case, language="es")


def test_without_the_whole_language_nothing_is_to_choose(cast: Cast, case: Case, manager: Client) -> None:
    """Without the catalogue the page around the words, its buttons and its refusals would be in English."""
    check(cast)
    assert (versions.signable("de"), versions.offered("de")) == ("en", "")
    page = sign_in(cast.clinician).get(reverse("consent", args=[case.pk])).content.decode()
    assert 'name="language"' not in page
    assert "complete in this language yet" in manager.get(reverse("setup_wording")).content.decode()


@pytest.mark.usefixtures("dentist")
def test_which_languages_are_signed_in(cast: Cast) -> None:
    assert versions.signable("de") == "en"
    check(cast)
    assert [versions.signable(code) for code in ("de", "de-AT", "ar", "en", "en-GB")] == ["de", "de", "en", "en", "en"]


def test_new_words_ask_for_a_new_check(cast: Cast, case: Case, dentist: Client, manager: Client) -> None:
    check(cast)
    row = write_wording(
        language="de",
        elements=[*german_rows()[:2], *rows()[2:3], *german_rows()[3:]],
        reason="Shorter",
        seen_version=0,
        now=NOW,
        **by(cast),
    )
    # What was checked stays in use, and is signed meanwhile.
    assert versions.signable("de") == "de"
    with nothing_written():
        refused = manager.post(reverse("wording_use", args=["de", row.label]), {"seen_number": "0"})
        assert refused.status_code == 409
        assert "Nobody has recorded who checked this translation into German." in refused.content.decode()
        with pytest.raises(NotChecked):
            used(cast, row)
    assert "Take it into use" not in manager.get(reverse("wording_version", args=["de", row.label])).content.decode()
    checked(cast, row)
    used(cast, row)
    assert versions.signable("de") == "de"
    assert versions.in_use("de") == versions.version_of("de", "2.1")


def german_rows() -> list[dict[str, object]]:
    return [
        {"number": one.number, "heading": one.heading, "paragraphs": list(one.paragraphs), "source": one.source}
        for one in GERMAN.elements
    ]


def test_newer_words_of_the_program_are_not_signed_unchecked(
    cast: Cast, case: Case, dentist: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Talked through in German; before the patient signs, a new release words it anew."""
    check(cast)
    course.talked(cast, case, language="de")
    given = course.pen(case)
    newer = Wording("de", "3", "New", (*GERMAN.elements[:20], shipped()["en"][-1].elements[20]))
    monkeypatch.setattr(versions, "shipped", lambda: dict(shipped()) | {"de": (GERMAN, newer)})
    with nothing_written(), pytest.raises(CannotSign, match="have not been checked yet"):
        sign(case=case, given=given, actor=course.themselves(cast), now=course.SIGNED_AT)
    phone = course.phone_of(cast, course.visit_of(cast, case))
    assert "The words in this language have not been checked yet" in phone.get("/p/sign/").content.decode()
    page = " ".join(dentist.get(reverse("consent", args=[case.pk])).content.decode().split())
    assert "A manager records it under Set-up, words of the consent" in page


@pytest.mark.parametrize(("change", "status"), [
    ({"name": " "}, 422), ({"qualification": ""}, 422), ({"checked_on": ""}, 422), ({"name": "x" * 121}, 422),
    ({"checked_on": "2026-03-04"}, 409), ({"name": "\x00"}, 422),
])  # fmt: skip
def test_a_check_that_is_not_recorded(manager: Client, change: dict[str, str], status: int) -> None:
    with nothing_written():
        refused = record(manager, **change)
    assert refused.status_code == status
    assert refused.context["check_form"].errors


def test_a_check_by_the_action(cast: Cast) -> None:
    late = CheckDetails(name="Ines Weber", qualification=" ", checked_on=NOW.date())
    tomorrow = CheckDetails(name="I", qualification="t", checked_on=NOW.date() + timedelta(days=1))
    for details in (late, tomorrow):
        with nothing_written(), pytest.raises(CheckIncomplete):
            record_check(language="de", label=GERMAN.version, details=details, now=NOW, **by(cast))


def test_who_may_record_it(cast: Cast) -> None:
    for user in (cast.desk, cast.clinician):
        client = sign_in(user)
        with nothing_written():
            assert record(client).status_code == 403


def test_a_language_without_any_words_is_translated_from_the_programs(cast: Cast, manager: Client) -> None:
    page = manager.get(reverse("setup_wording")).content.decode()
    start = reverse("wording_change", args=["es", "2"])
    assert start in page
    assert manager.get(start).status_code == 200
    row = written(cast, "es")
    assert row.label == "2.1"
    assert reverse("wording_version", args=["es", "2.1"]) in manager.get(reverse("setup_wording")).content.decode()
    # It is in use only after a check and a press.
    assert versions.in_use("es") is None
    checked(cast, row)
    used(cast, row)
    assert versions.in_use("es") == versions.version_of("es", "2.1")
