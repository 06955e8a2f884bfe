"""The plan: refused where a must-not, local rules or the maker forbid it, and kept as it was typed."""

from decimal import Decimal
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from clinic.accounts.models import Site
from tests.answer import Answer
from tests.cast import NOW, Cast, actor_of, sign_in
from tests.support import nothing_written
from tests.whitening import course
from tests.whitening.chairside import chairs
from whitening.cases.actions import CaseClosed, close_case
from whitening.cases.models import Basis, Case, CloseReason, Isolation, Peroxide, Plan, PlannedLight, Product
from whitening.consent.reading import standing
from whitening.screening.actions import PlanForbidden, PlanNotAllowed, make_plan
from whitening.screening.actions.planning import NoJurisdiction
from whitening.screening.reading import outcome_of

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("at_now")]


@pytest.fixture
def case(cast: Cast) -> Case:
    case = chairs.a_case(cast)
    course.answered(cast, case)
    course.examined(cast, case)
    return case


@pytest.fixture
def dentist(cast: Cast) -> Client:
    return sign_in(cast.clinician)


def send(client: Client, case: Case, **changed: object) -> Answer:
    fields = {
        "based_on": "0",
        "product": chairs.a_gel().pk,
        "arches": ["upper", "lower"],
        "sessions": "1",
        "cycles_per_session": "4",
        "minutes_per_cycle": "15",
        "least_days_between": "7",
        "light": "none",
        "isolation": "resin_barrier",
        "fee": "400.00",
        "expectation": "Two steps.",
    }
    return client.post(reverse("plan", args=[case.pk]), fields | changed)


def a_product(name: str, **changed: object) -> Product:
    gel = chairs.a_gel()
    gel.pk, gel.name = None, name
    gel._state.adding = True
    for field, value in changed.items():
        setattr(gel, field, value)
    gel.save()
    return gel


def test_it_works(cast: Cast, case: Case, dentist: Client) -> None:
    answer = send(dentist, case, teeth_left_out=["21", "11"])
    assert answer["Location"] == reverse("case", args=[case.pk])
    plan = Plan.objects.get()
    assert (plan.version, plan.strength_hp_percent, plan.currency, plan.jurisdiction) == (1, Decimal(6), "GBP", "UK")
    assert (plan.planned_by, plan.prescribed_by, plan.planned_at) == (cast.clinician, cast.clinician, NOW)
    assert plan.teeth_left_out == ["11", "21"]
    assert (plan.cycles_per_session, plan.minutes_per_cycle, plan.fee) == (4, 15, Decimal(400))


@pytest.mark.parametrize("who", ["desk", "assistant", "hygienist", "manager"])
def test_wrong_role(cast: Cast, case: Case, who: str) -> None:
    client = sign_in(getattr(cast, who))
    chairs.a_gel()
    with nothing_written():
        assert send(client, case).status_code == 403


def test_other_site(cast: Cast, case: Case) -> None:
    client = sign_in(cast.elsewhere)
    chairs.a_gel()
    with nothing_written():
        assert send(client, case).status_code == 404


def test_wrong_method(case: Case, dentist: Client) -> None:
    with nothing_written():
        assert dentist.delete(reverse("plan", args=[case.pk])).status_code == 405


def test_looking_writes_nothing(case: Case, dentist: Client) -> None:
    with nothing_written():
        page = dentist.get(reverse("plan", args=[case.pk])).content.decode()
    assert "There is no plan yet." in page
    assert "United Kingdom" in page


MUST_NOTS = [
    # (what the patient said, what the plan says, the rule that forbids, the plan that is free of it)
    ({"reacted_to_resin": "yes"}, {}, "ALG-02", {"isolation": "resin_free"}),
    ({"flashing_lights": "yes"}, {"light": "arch"}, "LGT-09", {"light": "none"}),
    ({"porphyria": "yes"}, {"light": "arch"}, "LGT-02", None),
    ({"acatalasaemia": "yes"}, {}, "MET-01", None),
    ({"reacted_to_peroxide": "unsure"}, {}, "ALG-01", None),
]


@pytest.mark.parametrize(("said", "typed", "code", "instead"), MUST_NOTS)
def test_a_must_not_binds_the_plan(
    cast: Cast,
    dentist: Client,
    said: dict[str, Any],
    typed: dict[str, str],
    code: str,
    instead: dict[str, str] | None,
) -> None:
    case = chairs.a_case(cast)
    course.answered(cast, case, **said)
    course.examined(cast, case)
    chairs.a_gel()
    with nothing_written():
        refused = send(dentist, case, **typed)
    assert refused.status_code == 409
    page = refused.content.decode()
    assert code in page
    assert "This plan cannot be kept." in page
    if instead is not None:
        assert send(dentist, case, **typed | instead).status_code == 302
        assert Plan.objects.count() == 1


def test_what_can_be_examined_only_under_a_plan_without_a_light(cast: Cast, dentist: Client) -> None:
    """LGT-03: the plan without a light comes first, and the gate stays shut until the letter was read."""
    case = chairs.a_case(cast)
    course.answered(cast, case, sun_illness="yes")
    course.examined(cast, case)
    chairs.a_gel()
    with nothing_written():
        assert "LGT-03" in send(dentist, case, light="arch").content.decode()
    assert send(dentist, case, light="none").status_code == 302
    assert [one.rule.code for one in outcome_of(case, today=NOW.date()).must_nots] == ["LGT-03"]


def test_the_refusal_names_each_rule(cast: Cast) -> None:
    case = chairs.a_case(cast)
    course.answered(cast, case, reacted_to_resin="yes", acatalasaemia="yes")
    gel = chairs.a_gel()
    with nothing_written(), pytest.raises(PlanForbidden) as refused:
        make_plan(
            case=case,
            details=course.details(product=gel),
            user=cast.clinician,
            actor=actor_of(cast.clinician),
            now=NOW,
        )
    assert sorted(one.rule.code for one in refused.value.findings) == ["ALG-02", "MET-01"]
    assert all(str(one.rule.what_to_do) in str(refused.value) for one in refused.value.findings)


def test_before_anything_is_answered_nothing_forbids(cast: Cast, dentist: Client) -> None:
    """Not known is not forbidden: the gates wait for the answers, the plan may be talked about."""
    case = chairs.a_case(cast)
    assert send(dentist, case).status_code == 302


LIMITS = [
    # Directive 2011/84/EU and the UK regulations that follow it: 6 % as present or released (seen in secondary texts).
    ({"hp_percent_as_used": Decimal("6.01"), "label_percent": Decimal("6.01")}, {}, "more than the 6 %"),
    ({"cycles_most": 3}, {}, "allows at most 3 cycles in one session"),
    ({"cycle_minutes_most": 14}, {}, "allows at most 14 minutes on the teeth"),
    ({"light_allowed": False}, {"light": "hand_held"}, "does not allow a light"),
]


@pytest.mark.parametrize(("label", "typed", "sentence"), LIMITS)
def test_limits(case: Case, dentist: Client, label: dict[str, object], typed: dict[str, str], sentence: str) -> None:
    gel = a_product("Whitening gel T", **label)
    with nothing_written():
        refused = send(dentist, case, product=gel.pk, **typed)
    assert refused.status_code == 409
    assert sentence in refused.content.decode()


@pytest.mark.parametrize(("percent", "jurisdiction", "allowed"), [
    ("6.00", "EU", True), ("6.00", "UK", True), ("6.01", "EU", False), ("35.00", "UK", False),
    # No federal cap was found for the US (from memory, unverified): the maker and the dentist decide.
    ("35.00", "US", True),
])  # fmt: skip
def test_strength_by_place(cast: Cast, case: Case, percent: str, jurisdiction: str, allowed: bool) -> None:
    Site.objects.filter(pk=cast.fernbrook.pk).update(jurisdiction=jurisdiction)
    gel = a_product("Whitening gel T", hp_percent_as_used=Decimal(percent), label_percent=Decimal(percent))
    assert (send(sign_in(cast.clinician), case, product=gel.pk).status_code == 302) is allowed


def test_carbamide_counts_by_what_it_releases(case: Case, dentist: Client) -> None:
    """Cap on hydrogen peroxide as used; 16 % carbamide states 5.8 % here (label value, not computed)."""
    gel = a_product(
        "Whitening gel C", peroxide=Peroxide.CARBAMIDE, label_percent=Decimal(16), hp_percent_as_used=Decimal("5.80"),
        label_basis=Basis.AS_USED,
    )  # fmt: skip
    assert send(dentist, case, product=gel.pk).status_code == 302


def test_no_tooth_left(case: Case, dentist: Client) -> None:
    upper = [f"{side}{place}" for side in (1, 2) for place in range(1, 6)]
    chairs.a_gel()
    with nothing_written():
        refused = send(dentist, case, arches=["upper"], teeth_left_out=upper)
    assert refused.status_code == 409
    assert "No tooth is left to whiten." in refused.content.decode()


def test_no_jurisdiction_no_plan(cast: Cast, case: Case) -> None:
    Site.objects.filter(pk=cast.fernbrook.pk).update(jurisdiction="")
    case = Case.objects.get(pk=case.pk)
    gel = chairs.a_gel()
    with nothing_written(), pytest.raises(NoJurisdiction):
        make_plan(
            case=case, details=course.details(product=gel), user=cast.clinician, actor=actor_of(cast.clinician), now=NOW
        )
    page = sign_in(cast.clinician).get(reverse("plan", args=[case.pk])).content.decode()
    assert "Nobody has chosen yet whose rules hold at this site." in page


def test_a_profession_that_may_not_plan_here(cast: Cast, case: Case) -> None:
    """UK dental regulator: a hygienist treats on a dentist's prescription (seen)."""
    cast.hygienist.may_examine_and_decide = cast.hygienist.may_prescribe = True
    cast.hygienist.save()
    gel = chairs.a_gel()
    with nothing_written(), pytest.raises(PlanNotAllowed, match="dental hygienist may not examine and plan"):
        make_plan(
            case=case, details=course.details(product=gel), user=cast.hygienist, actor=actor_of(cast.hygienist), now=NOW
        )


def test_who_may_not_prescribe_is_not_named_as_prescriber(cast: Cast, case: Case, dentist: Client) -> None:
    cast.clinician.may_prescribe = False
    cast.clinician.save()
    send(dentist, case)
    assert Plan.objects.get().prescribed_by is None


@pytest.mark.parametrize("changed", [
    {"product": "999999"}, {"product": ""}, {"arches": []}, {"sessions": "0"}, {"cycles_per_session": "7"},
    {"minutes_per_cycle": "ten"}, {"least_days_between": "1"}, {"fee": "-1"}, {"fee": "1e9"}, {"light": "sun"},
    {"isolation": ""}, {"teeth_left_out": ["99"]}, {"expectation": "x" * 501}, {"expectation": "\x00"},
    {"based_on": "x"},
])  # fmt: skip
def test_bad_input_stays_on_the_page(case: Case, dentist: Client, changed: dict[str, object]) -> None:
    chairs.a_gel()
    with nothing_written():
        refused = send(dentist, case, **{"sessions": "3"} | changed)
    assert refused.status_code == 422
    page = refused.content.decode()
    assert "data-focus-errors" in page
    if "sessions" not in changed:
        assert 'name="sessions" value="3"' in page


def test_what_was_typed_stays_when_a_rule_forbids(cast: Cast, dentist: Client) -> None:
    case = chairs.a_case(cast)
    course.answered(cast, case, reacted_to_resin="yes")
    page = send(dentist, case, fee="417.50", expectation="Three steps.", teeth_left_out=["13"]).content.decode()
    assert 'value="417.50"' in page
    assert "Three steps." in page
    assert 'value="13" id="id_teeth_left_out' in page or 'value="13"' in page


def test_two_people_plan_at_once(case: Case, dentist: Client) -> None:
    """The second sees both: what is in force now, and what was typed."""
    send(dentist, case)
    with nothing_written():
        refused = send(dentist, case, fee="350.00")
    assert refused.status_code == 409
    page = refused.content.decode()
    assert "Somebody recorded plan 1 while this page was open." in page
    assert "Plan 1, in force" in page
    assert 'value="350.00"' in page
    assert 'name="based_on" value="1"' in page
    assert send(dentist, case, fee="350.00", based_on="1").status_code == 302


def test_a_changed_plan_starts_from_the_one_in_force(case: Case, dentist: Client) -> None:
    send(dentist, case, cycles_per_session="3", fee="333.00", teeth_left_out=["11"])
    page = dentist.get(reverse("plan", args=[case.pk])).content.decode()
    assert 'name="cycles_per_session" value="3"' in page
    assert 'name="fee" value="333.00"' in page


@pytest.mark.usefixtures("quick_paper")
@pytest.mark.parametrize(("changed", "named"), [
    ({"light": PlannedLight.ARCH}, "the light"),
    ({"cycles_per_session": 5}, "more cycles or sessions than agreed"),
    ({"isolation": Isolation.RESIN_FREE}, "the protection of the gums"),
    ({"fee": Decimal("400.01")}, "a higher fee"),
])  # fmt: skip
def test_changing_the_plan_after_signing_names_what_changed_and_shuts_the_consent(
    cast: Cast, changed: dict[str, Any], named: str
) -> None:
    case = course.ready_to_sign(cast)
    course.signed(cast, case)
    course.countersigned(cast, case)
    assert standing(case).agreed
    course.planned(cast, case, **changed)
    held = standing(case)
    assert [str(word) for word in held.changed] == [named]
    assert not held.signed_this_plan
    assert not held.agreed
    page = sign_in(cast.clinician).get(reverse("consent", args=[case.pk])).content.decode()
    assert "The plan differs from what was signed. It needs a new signature:" in page
    assert named in page


@pytest.mark.usefixtures("quick_paper")
@pytest.mark.parametrize("less", [{"cycles_per_session": 3}, {"minutes_per_cycle": 10}, {"fee": Decimal(350)}, {}])
def test_less_than_agreed_needs_no_new_signature(cast: Cast, less: dict[str, Any]) -> None:
    case = course.ready_to_sign(cast)
    course.signed(cast, case)
    course.countersigned(cast, case)
    course.planned(cast, case, **less)
    assert standing(case).agreed


def test_a_closed_case_is_not_planned(cast: Cast, case: Case) -> None:
    close_case(case=case, reason=CloseReason.NOT_SUITABLE, words="", actor=actor_of(cast.clinician), now=NOW)
    gel = chairs.a_gel()
    with nothing_written(), pytest.raises(CaseClosed):
        make_plan(
            case=case, details=course.details(product=gel), user=cast.clinician, actor=actor_of(cast.clinician), now=NOW
        )
