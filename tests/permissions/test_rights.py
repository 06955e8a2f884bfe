"""The pure table: roles give capabilities, and rights of the person narrow them."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from clinic.accounts.models import Role
from clinic.accounts.rights import (
    BY_ROLE,
    NEEDS_RIGHT,
    Capability,
    NotAllowed,
    Right,
    capabilities,
    may,
    require,
    sites_where,
)
from tests.cast import Cast, works_also

C = Capability
CLINICAL = {C.ANSWERS_READ, C.PHOTOGRAPHS, C.CLINICAL_DOCUMENTS_READ, C.CONSENT_READ, C.REPLIES_READ}
DECISIONS = {
    C.EXAMINE_AND_DECIDE,
    C.OVERRIDE,
    C.PLAN_WRITE,
    C.PRESCRIBE,
    C.CONSENT_RECORD,
    C.COUNTERSIGN,
    C.SESSION_CLOSE,
}


def test_every_capability_belongs_to_a_role() -> None:
    assert set().union(*BY_ROLE.values()) == set(Capability)


def test_the_desk_sees_nothing_clinical() -> None:
    assert capabilities([Role.DESK], Right) & (CLINICAL | DECISIONS | {C.CHAIRSIDE_RECORD}) == set()


def test_an_assistant_has_the_desk_and_the_chairside() -> None:
    extra = BY_ROLE[Role.ASSISTANT] - BY_ROLE[Role.DESK]
    assert BY_ROLE[Role.DESK] < BY_ROLE[Role.ASSISTANT]
    assert C.CHAIRSIDE_RECORD in extra
    assert extra & DECISIONS == set()


def test_a_clinician_has_what_an_assistant_has() -> None:
    assert BY_ROLE[Role.ASSISTANT] < BY_ROLE[Role.CLINICIAN]


def test_a_manager_decides_nothing_about_a_patient() -> None:
    assert capabilities([Role.MANAGER], Right) & (DECISIONS | CLINICAL) == set()


@pytest.mark.parametrize(
    ("rights", "wanted", "held"),
    [
        ((), C.EXAMINE_AND_DECIDE, False),
        ((Right.EXAMINE_AND_DECIDE,), C.EXAMINE_AND_DECIDE, True),
        ((Right.CARRY_OUT,), C.EXAMINE_AND_DECIDE, False),
        ((Right.CARRY_OUT,), C.SESSION_CLOSE, True),
        ((Right.EXAMINE_AND_DECIDE,), C.PRESCRIBE, False),
        ((Right.PRESCRIBE,), C.PRESCRIBE, True),
        ((Right.EXAMINE_AND_DECIDE, Right.PRESCRIBE, Right.CARRY_OUT), C.ANSWERS_READ, False),
        ((Right.SEE_CLINICAL_ANSWERS,), C.ANSWERS_READ, True),
    ],
)
def test_rights_narrow_a_clinician(rights: tuple[Right, ...], wanted: Capability, held: bool) -> None:
    assert (wanted in capabilities([Role.CLINICIAN], rights)) is held


@given(st.sets(st.sampled_from(Role)), st.sets(st.sampled_from(Right)), st.sampled_from(Right), st.sampled_from(Role))
def test_more_rights_and_roles_never_take_anything_away(
    roles: set[Role], rights: set[Right], right: Right, role: Role
) -> None:
    assert capabilities(roles, rights) <= capabilities(roles | {role}, rights | {right})


@given(st.sets(st.sampled_from(Role)))
def test_without_rights_nothing_that_needs_one(roles: set[Role]) -> None:
    assert capabilities(roles, []) & NEEDS_RIGHT.keys() == set()


def test_may_asks_for_the_site(cast: Cast) -> None:
    assert may(cast.clinician, C.EXAMINE_AND_DECIDE, cast.fernbrook)
    assert not may(cast.clinician, C.EXAMINE_AND_DECIDE, cast.alderton)
    assert not may(cast.hygienist, C.EXAMINE_AND_DECIDE, cast.fernbrook)
    with pytest.raises(NotAllowed):
        require(cast.desk, C.SETUP, cast.fernbrook)


def test_a_role_counts_where_it_is_held(cast: Cast) -> None:
    both = works_also(cast.desk, cast.alderton, Role.MANAGER)
    assert sites_where(both, C.SETUP) == {cast.alderton.pk}
    assert sites_where(both, C.TODAY) == {cast.alderton.pk, cast.fernbrook.pk}


def test_ended_access_may_nothing(cast: Cast) -> None:
    cast.clinician.is_active = False
    assert not may(cast.clinician, C.TODAY, cast.fernbrook)
    assert sites_where(cast.clinician, C.TODAY) == set()


def test_nobody_may_nothing() -> None:
    assert not may(None, C.TODAY)
