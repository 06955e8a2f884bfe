"""Who may do what: one table from role to capabilities, narrowed by what the person in particular may do.

The table is pure data. `may` asks it for a person at a site; `require` is what actions call first.
"""

from collections.abc import Iterable, Mapping
from datetime import date
from enum import StrEnum
from typing import Final

from django.contrib.auth.models import AnonymousUser
from django.utils.translation import gettext_lazy as _

from clinic.accounts.models import Membership, Role, Site, User
from clinic.trail.refusals import Refusal


class Capability(StrEnum):
    """Everything a door or an action may ask for, in the whole product."""

    OWN_ACCOUNT = "own_account"  # one's own password, PIN, second factor, current site
    TODAY = "today"
    DIARY_READ = "diary_read"
    DIARY_BOOK = "diary_book"
    PATIENTS_READ = "patients_read"
    PATIENTS_WRITE = "patients_write"
    PATIENTS_MERGE = "patients_merge"
    CASE_READ = "case_read"  # the case page with gate marks; findings need ANSWERS_READ on top
    CASE_OPEN = "case_open"
    CASE_CLOSE = "case_close"
    MESSAGES_READ = "messages_read"
    MESSAGES_SEND = "messages_send"
    DOCUMENTS_READ = "documents_read"  # slips, quotes, aftercare: what the desk hands over
    CLINICAL_DOCUMENTS_READ = "clinical_documents_read"  # consents, session records, letters
    PAPERS_FILE = "papers_file"  # scans what came in; reading it again is another matter
    ANSWERS_READ = "answers_read"
    REASK = "reask"
    EXAMINE_AND_DECIDE = "examine_and_decide"
    OVERRIDE = "override"
    PLAN_WRITE = "plan_write"
    PRESCRIBE = "prescribe"
    QUOTE_WRITE = "quote_write"
    DEPOSIT_RECORD = "deposit_record"  # what happened to it; no money is taken here
    CONSENT_HAND_OUT = "consent_hand_out"  # gives the patient the tablet or a new link
    CONSENT_READ = "consent_read"
    CONSENT_RECORD = "consent_record"  # the talk that comes before signing
    CONSENT_WITNESS = "consent_witness"  # lets an interpreter sign, reads and checks what was signed on paper
    CONSENT_WITHDRAW = "consent_withdraw"  # writes down that the patient has withdrawn
    COUNTERSIGN = "countersign"
    SESSION_OPEN = "session_open"
    CHAIRSIDE_RECORD = "chairside_record"
    SESSION_CLOSE = "session_close"
    INCIDENT_RECORD = "incident_record"
    INCIDENT_CLOSE = "incident_close"
    PHOTOGRAPHS = "photographs"
    FOLLOWUPS_READ = "followups_read"  # who is due, who is silent; what they wrote needs REPLIES_READ
    FOLLOWUPS_WORK = "followups_work"  # asks how somebody is after treatment, and types in what they say
    RECALL_CALL = "recall_call"  # calls, and says how the call went; asks for a time, and nothing clinical
    REPLIES_READ = "replies_read"
    REVIEW_RECORD = "review_record"
    MATERIALS_READ = "materials_read"
    MATERIALS_USE = "materials_use"  # received, used, wasted
    MATERIALS_MANAGE = "materials_manage"  # products, prices, reorder lines
    BATCH_HOLD = "batch_hold"
    LIGHT_CHECK = "light_check"
    RESULTS_READ = "results_read"
    SETUP = "setup"
    PEOPLE = "people"
    TRAIL_READ = "trail_read"
    EXPORT = "export"
    PRIVACY = "privacy"  # retention and erasure


class Right(StrEnum):
    """What a person in particular may do, by registration and by the practice's decision; the User's fields."""

    EXAMINE_AND_DECIDE = "may_examine_and_decide"
    PRESCRIBE = "may_prescribe"
    CARRY_OUT = "may_carry_out"
    SEE_CLINICAL_ANSWERS = "may_see_clinical_answers"


_C = Capability
_DESK: Final = frozenset(
    {
        _C.OWN_ACCOUNT,
        _C.TODAY,
        _C.DIARY_READ,
        _C.DIARY_BOOK,
        _C.PATIENTS_READ,
        _C.PATIENTS_WRITE,
        _C.CASE_READ,
        _C.CASE_OPEN,
        _C.CASE_CLOSE,
        _C.MESSAGES_READ,
        _C.MESSAGES_SEND,
        _C.DOCUMENTS_READ,
        _C.PAPERS_FILE,
        _C.DEPOSIT_RECORD,
        _C.CONSENT_HAND_OUT,
        _C.CONSENT_WITHDRAW,
        _C.FOLLOWUPS_READ,
        _C.RECALL_CALL,
    }
)
_ASSISTANT: Final = _DESK | {
    _C.CLINICAL_DOCUMENTS_READ,
    _C.ANSWERS_READ,
    _C.REASK,
    _C.CONSENT_READ,
    _C.CONSENT_WITNESS,
    _C.SESSION_OPEN,
    _C.CHAIRSIDE_RECORD,
    _C.INCIDENT_RECORD,
    _C.PHOTOGRAPHS,
    _C.FOLLOWUPS_WORK,
    _C.REPLIES_READ,
    _C.MATERIALS_READ,
    _C.MATERIALS_USE,
    _C.BATCH_HOLD,
    _C.LIGHT_CHECK,
}
_CLINICIAN: Final = _ASSISTANT | {
    _C.EXAMINE_AND_DECIDE,
    _C.OVERRIDE,
    _C.PLAN_WRITE,
    _C.PRESCRIBE,
    _C.QUOTE_WRITE,
    _C.CONSENT_RECORD,
    _C.COUNTERSIGN,
    _C.SESSION_CLOSE,
    _C.REVIEW_RECORD,
    _C.RESULTS_READ,
}
# Not "desk and more": a manager sees what happened, and decides nothing about a patient.
_MANAGER: Final = frozenset(
    {
        _C.OWN_ACCOUNT,
        _C.TODAY,
        _C.DIARY_READ,
        _C.PATIENTS_READ,
        _C.PATIENTS_MERGE,
        _C.CASE_READ,
        _C.MESSAGES_READ,
        _C.DOCUMENTS_READ,
        _C.INCIDENT_CLOSE,
        _C.FOLLOWUPS_READ,
        _C.MATERIALS_READ,
        _C.MATERIALS_USE,
        _C.MATERIALS_MANAGE,
        _C.BATCH_HOLD,
        _C.LIGHT_CHECK,
        _C.RESULTS_READ,
        _C.SETUP,
        _C.PEOPLE,
        _C.TRAIL_READ,
        _C.EXPORT,
        _C.PRIVACY,
    }
)
BY_ROLE: Final[Mapping[Role, frozenset[Capability]]] = {
    Role.DESK: _DESK,
    Role.ASSISTANT: _ASSISTANT,
    Role.CLINICIAN: _CLINICIAN,
    Role.MANAGER: _MANAGER,
}
# Any one of these rights is enough; a capability that is not named here needs none.
_DECIDES: Final = frozenset({Right.EXAMINE_AND_DECIDE})
_TREATS: Final = frozenset({Right.EXAMINE_AND_DECIDE, Right.CARRY_OUT})
NEEDS_RIGHT: Final[Mapping[Capability, frozenset[Right]]] = {
    _C.ANSWERS_READ: frozenset({Right.SEE_CLINICAL_ANSWERS}),
    _C.EXAMINE_AND_DECIDE: _DECIDES,
    _C.OVERRIDE: _DECIDES,
    _C.PLAN_WRITE: _DECIDES,
    _C.PRESCRIBE: frozenset({Right.PRESCRIBE}),
    _C.QUOTE_WRITE: _DECIDES,
    _C.CONSENT_RECORD: _DECIDES,
    _C.COUNTERSIGN: _DECIDES,
    _C.SESSION_CLOSE: _TREATS,
    _C.REVIEW_RECORD: _TREATS,
}
# Roles that may decide about a patient or about people sign in with a second factor.
WITH_SECOND_FACTOR: Final = frozenset({Role.CLINICIAN, Role.MANAGER})


class NotAllowed(Refusal):
    code = "accounts.not_allowed"
    sentence = _("Your role does not include this. Ask a manager of your practice if you need it for your work.")


class CoverRunOut(Refusal):
    """Who may examine, decide and treat is never overridable: a day that has passed stops it like a missing right."""

    code = "accounts.cover_run_out"
    sentence = _(
        "Your registration or indemnity has run out, so you cannot record this. Ask a colleague whose cover is in "
        "date, or ask a manager to enter the new date under People."
    )


def capabilities(roles: Iterable[Role], rights: Iterable[Right]) -> frozenset[Capability]:
    held = frozenset(rights)
    by_role = frozenset[Capability]().union(*(BY_ROLE[role] for role in roles))
    return frozenset(one for one in by_role if one not in NEEDS_RIGHT or NEEDS_RIGHT[one] & held)


def rights_of(user: User) -> frozenset[Right]:
    return frozenset(right for right in Right if getattr(user, right))


def may(user: User | AnonymousUser | None, capability: Capability, site: Site | None = None) -> bool:
    """Without a site: at any site of theirs. One query for all questions about one person."""
    if not isinstance(user, User) or not user.is_active:
        return False
    return capability in capabilities(user.roles_at(site), rights_of(user))


def sites_where(user: User, capability: Capability) -> frozenset[int]:
    """The keys of the sites at which they may: for a page whose rows are of several sites."""
    if not user.is_active:
        return frozenset()
    rights = rights_of(user)
    return frozenset(pk for pk, roles in user.roles_by_site.items() if capability in capabilities(roles, rights))


def who_may(capability: Capability, site: Site) -> list[User]:
    """Everybody at work there who may, by name; one query however many they are."""
    held: dict[User, set[Role]] = {}
    rows = Membership.objects.filter(site=site, user__is_active=True).select_related("user")
    for row in rows.order_by("user__name", "user_id"):
        held.setdefault(row.user, set()).add(Role(row.role))
    return [user for user, roles in held.items() if capability in capabilities(roles, rights_of(user))]


def require(user: User | AnonymousUser | None, capability: Capability, site: Site | None) -> None:
    if not may(user, capability, site):
        raise NotAllowed


def require_in_date(user: User, today: date) -> None:
    """Beside `require`, where somebody answers for a clinical decision with their registration."""
    if not user.in_date(today):
        raise CoverRunOut


def needs_second_factor(user: User) -> bool:
    return bool(WITH_SECOND_FACTOR & user.roles_at(None))
