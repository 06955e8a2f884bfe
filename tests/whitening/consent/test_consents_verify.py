"""The command that checks every signed consent: it says how many, names each that is not as signed, and fails then."""

from datetime import timedelta
from io import StringIO

import pytest
from django.core.management import call_command
from django.core.management.base import CommandError

from tests.cast import Cast
from tests.clinic.trail.writing import unguarded
from tests.papers import a_pdf
from tests.whitening import course
from tests.whitening.consent import onpaper
from whitening.consent.actions import withdraw
from whitening.consent.models import ConsentText, PaperReading, PaperWithdrawal, Signature

pytestmark = pytest.mark.django_db


@pytest.fixture
def signature(cast: Cast, quick_paper: None) -> Signature:
    return course.signed(cast, course.ready_to_sign(cast))


def run(*, fails: bool = False) -> list[str]:
    said = StringIO()
    if fails:
        with pytest.raises(CommandError, match="Not all consents are what was signed"):
            call_command("consents_verify", stdout=said)
    else:
        call_command("consents_verify", stdout=said)
    return said.getvalue().splitlines()


def test_as_it_was_signed(signature: Signature) -> None:
    assert run() == ["Signed consents checked: 1. Altered 0.", "✓ All consents are as they were signed."]


def test_other_words_under_the_signature(signature: Signature) -> None:
    with unguarded("whitening_consent_consenttext"):
        ConsentText.objects.filter(pk=signature.text_id).update(body=signature.text.body.replace("6 %", "9 %"))
    assert run(fails=True) == [
        f"✗ altered: signature {signature.pk} of case {signature.case_id}",
        "Signed consents checked: 1. Altered 1.",
    ]


def test_another_reader_of_a_paper_and_other_words_of_a_no(cast: Cast, at_now: object, quick_paper: None) -> None:
    at_now.move_to(course.SIGNED_AT)  # type: ignore[attr-defined]  # the traveller of the fixture
    case = course.ready_to_sign(cast)
    reading = onpaper.written_down(cast, case)
    withdraw(case=case, words="No.", actor=course.themselves(cast), now=course.SIGNED_AT - timedelta(minutes=1))
    course.talked(cast, case, now=course.SIGNED_AT)
    again = onpaper.written_down(cast, case, paper=onpaper.scanned(cast, case, content=a_pdf(2)))
    signed = onpaper.compared(cast, again)
    assert signed is not None
    assert run()[-1] == "✓ All consents are as they were signed."
    with unguarded("whitening_consent_paperreading", "whitening_consent_paperwithdrawal"):
        PaperReading.objects.filter(pk=again.pk).update(read_by=cast.desk)
        PaperWithdrawal.objects.update(words="Yes.")
    assert run(fails=True)[:2] == [
        f"✗ altered: signature {signed.pk} of case {case.pk}",
        f"✗ altered: withdrawal of paper reading {reading.pk}",
    ]


def test_nothing_signed_is_nothing_wrong() -> None:
    assert run()[0] == "Signed consents checked: 0. Altered 0."
