"""Somebody who works at two sites may do at each what their role is there, whichever stands on the screen."""

import pytest
from django.urls import reverse

from clinic.accounts.models import Membership, Role
from tests.cast import Cast, hire, sign_in
from tests.support import nothing_written
from tests.whitening.casebook import lived

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("clock")]
CLINICAL = (
    "assessment",
    "decision",
    "reask_decision",
    "examination",
    "plan",
    "consent_talk",
    "consent_countersign",
    "review",
    "case_identity",
)


def test_a_dentist_there_who_helps_at_the_desk_here_reads_no_answers_here(cast: Cast) -> None:
    case = lived.with_answers(cast).case
    both = hire(
        cast.alderton,
        Role.CLINICIAN,
        name="Ona Petrova",
        email="ona@example.org",
        may_examine_and_decide=True,
        may_prescribe=True,
        may_carry_out=True,
    )
    Membership.objects.create(user=both, site=cast.fernbrook, role=Role.DESK)
    client = sign_in(both)
    assert client.get(reverse("case", args=[case.pk])).status_code == 200
    with nothing_written():
        for name in CLINICAL:
            where = reverse(name, args=[case.pk])
            assert client.post(where).status_code in {403, 405}, name
            assert client.get(where).status_code in {403, 405}, name
    assert client.get(reverse("assessment", args=[case.pk])).status_code == 403
