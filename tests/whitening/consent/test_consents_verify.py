"""The command that checks every signed consent: it says how many, names each that is not as signed, and fails then."""

from io import StringIO

import pytest
from django.core.management import call_command
from django.core.management.base import CommandError

from tests.cast import Cast
from tests.clinic.trail.writing import unguarded
from tests.whitening import course
from whitening.consent.models import ConsentText, Signature

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


def test_nothing_signed_is_nothing_wrong() -> None:
    assert run()[0] == "Signed consents checked: 0. Altered 0."
