"""The patient's own copy of what was signed: the same file, through their own link only."""

from datetime import timedelta

import pytest
from django.db import transaction
from django.test import Client
from django.urls import reverse

from clinic.documents import archive
from clinic.messages import links, visits
from clinic.messages.models import PrivateLink
from clinic.trail.clock import real_now
from tests.cast import NOW, Cast, actor_of
from tests.support import nothing_written
from tests.whitening import course
from tests.whitening.consent.seed import case_of, patient_of
from whitening.cases.models import Case
from whitening.chairside.models import Session
from whitening.consent.actions import withdraw
from whitening.consent.models import Signature
from whitening.recall.kinds import HOW_ARE_YOU

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("quick_paper")]
PAPER, AFTERWARDS = "/p/consent-paper/", "/p/how/consent/"


@pytest.fixture(autouse=True)
def _after_signing(at_now: object) -> None:
    at_now.move_to(course.SIGNED_AT)  # type: ignore[attr-defined]  # the traveller of the fixture


@pytest.fixture
def signature(cast: Cast) -> Signature:
    return course.signed(cast, course.ready_to_sign(cast))


def kept(signature: Signature) -> bytes:
    assert signature.document is not None
    return archive.read(signature.document.sha256)


def phone_of(cast: Cast, case: Case, *, code_passed: bool = True) -> Client:
    return course.phone_of(cast, course.visit_of(cast, case, patient=case.patient), code_passed=code_passed)


def test_it_works(cast: Cast, signature: Signature) -> None:
    phone = phone_of(cast, signature.case)
    with nothing_written():
        page = phone.get(PAPER)
    assert (page.status_code, page["Content-Type"], page.content) == (200, "application/pdf", kept(signature))
    assert "no-store" in page["Cache-Control"]
    for address in (reverse("sign"), reverse("before_visit")):
        assert f'href="{PAPER}"' in phone.get(address).content.decode(), address


def test_a_withdrawn_consent_is_still_theirs(cast: Cast, signature: Signature) -> None:
    withdraw(case=signature.case, words="", actor=actor_of(cast.desk), now=course.SIGNED_AT)
    assert phone_of(cast, signature.case).get(PAPER).content == kept(signature)


def test_nobody_elses_link_opens_it(cast: Cast, signature: Signature) -> None:
    """Neither the link of another patient's visit, nor one that names this visit for another patient."""
    other = case_of(cast, patient_of(cast, "Marek Dvořák", NOW), NOW)
    stranger, twisted = phone_of(cast, other), phone_of(cast, signature.case)
    PrivateLink.objects.filter(patient=cast.patient).update(patient=other.patient)
    for phone in (stranger, twisted):
        page = phone.get(PAPER)
        assert (page.status_code, b"%PDF" in page.content) == (404, False)
    assert Client().get(PAPER).status_code == 410


def test_the_code_comes_first(cast: Cast, signature: Signature) -> None:
    page = phone_of(cast, signature.case, code_passed=False).get(PAPER)
    assert page["Location"].startswith(reverse("private_code"))


def test_before_signing_there_is_none(cast: Cast) -> None:
    page = phone_of(cast, course.ready_to_sign(cast)).get(PAPER)
    assert (page.status_code, "Nothing is signed yet" in page.content.decode()) == (404, True)


def test_a_file_that_was_changed_is_not_shown(cast: Cast, signature: Signature) -> None:
    assert signature.document is not None
    archive.path_of(signature.document.sha256).write_bytes(b"%PDF something else")
    page = phone_of(cast, signature.case).get(PAPER)
    assert (page.status_code, b"something else" in page.content) == (409, False)
    assert "We can give you a copy at the practice." in page.content.decode()


def test_after_the_visit_it_stands_on_the_page_that_asks_how_they_are(cast: Cast, signature: Signature) -> None:
    """Not for the code on the printed sheet, which shows no record."""
    session = a_closed_session(cast, signature)
    phone = by_how_are_you(cast, session, write_only=False)
    assert f'href="{AFTERWARDS}"' in phone.get(reverse("how_are_you")).content.decode()
    assert phone.get(AFTERWARDS).content == kept(signature)
    printed = by_how_are_you(cast, session, write_only=True)
    assert AFTERWARDS not in printed.get(reverse("how_are_you")).content.decode()
    assert printed.get(AFTERWARDS).status_code == 410


def a_closed_session(cast: Cast, signature: Signature) -> Session:
    return Session.objects.create(
        case=signature.case,
        plan=signature.plan,
        number=1,
        site=cast.fernbrook,
        opened_at=NOW,
        opened_by=cast.clinician,
        closed_at=NOW + timedelta(minutes=45),
        closed_by=cast.clinician,
    )


def by_how_are_you(cast: Cast, session: Session, *, write_only: bool) -> Client:
    with transaction.atomic():
        link, _url = links.issue(
            purpose=HOW_ARE_YOU,
            subject_id=session.pk,
            patient=session.case.patient,
            site=cast.fernbrook,
            now=course.SIGNED_AT,
            write_only=write_only,
        )
        visit, secret = visits.begin(link=link, real_now=real_now())
        visit.known_at = visit.code_passed_at = real_now()
        visit.save()
    phone = Client()
    phone.cookies[visits.cookie_name()] = secret
    return phone
