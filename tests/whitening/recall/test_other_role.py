"""The follow-ups of two sites stand on one page: each shows what the person may do at its own."""

import pytest
from django.urls import reverse

from clinic.accounts.models import Role
from tests.cast import NOW, Cast, sign_in, works_also
from tests.support import nothing_written
from tests.whitening.recall import afterwards
from whitening.recall.models import FollowUp, FollowUpState

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("clock")]


def test_each_row_shows_what_the_role_at_its_site_allows(cast: Cast) -> None:
    escalation, call = afterwards.an_escalation(cast), afterwards.a_message_call(cast, now=NOW)
    follow_up = FollowUp.objects.filter(session=escalation.reply.session).order_by("pk")[0]
    FollowUp.objects.filter(pk=follow_up.pk).update(state=FollowUpState.CALL, next_at=NOW)
    acts = {
        "read": reverse("escalation", args=[escalation.pk]),
        "work": reverse("followup_call", args=[follow_up.pk]),
        "settle": reverse("message_call", args=[call.pk]),
    }
    shown = {}
    for who, there in (
        (cast.desk, Role.ASSISTANT),
        (cast.manager, Role.CLINICIAN),
        (cast.assistant, Role.MANAGER),
    ):
        client = sign_in(works_also(who, cast.alderton, there), screen=cast.alderton)
        with nothing_written():
            page = client.get(reverse("followups")).content.decode()
        shown[who] = {name for name, address in acts.items() if f'"{address}"' in page}
    assert shown == {cast.desk: {"settle", "work"}, cast.manager: set(), cast.assistant: {"read", "work", "settle"}}


def test_beside_each_row_stands_its_site_for_whoever_works_at_several(cast: Cast) -> None:
    escalation, _call = afterwards.an_escalation(cast), afterwards.a_message_call(cast, now=NOW)
    rows = FollowUp.objects.filter(session=escalation.reply.session).order_by("pk")
    FollowUp.objects.filter(pk=rows[0].pk).update(state=FollowUpState.CALL, next_at=NOW)
    one_site, two_sites = cast.clinician, works_also(cast.assistant, cast.alderton, Role.DESK)
    page = sign_in(two_sites, screen=cast.alderton).get(reverse("followups")).content.decode().split("<main")[1]
    # The answer, the call about a check, the call about a message, and each that is only coming.
    coming = FollowUp.objects.filter(state=FollowUpState.WAITING).count()
    assert coming > 0
    assert page.count("· Fernbrook</span>") == 3 + coming
    alone = sign_in(one_site).get(reverse("followups")).content.decode().split("<main")[1]
    assert "Fernbrook</span>" not in alone
