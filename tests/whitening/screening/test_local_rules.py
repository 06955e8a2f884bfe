"""Set-up of the local rules: read with their sources, written over with reason and source, and never loosened."""

from datetime import date, timedelta

import pytest
from django.test import Client
from django.urls import reverse
from django.utils.html import escape

from clinic.accounts.models import Site
from clinic.accounts.refusals import ChangedMeanwhile
from clinic.accounts.rights import NotAllowed
from clinic.trail.models import TrailEntry
from tests.answer import Answer
from tests.cast import NOW, Cast, actor_of, sign_in
from tests.support import nothing_written
from tests.whitening import course
from tests.whitening.chairside import chairs
from tests.whitening.ownrules import WHERE, WHY, details, written_over
from whitening.screening.actions import LocalRuleNotKept, change_local_rule
from whitening.screening.actions import local_rules as changing
from whitening.screening.actions.local_rules import LocalRuleUnknown
from whitening.screening.local_rules import rule_of
from whitening.screening.models import LocalRuleChange

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("at_now")]
# United Kingdom as the page has it at first, with a new reason.
TYPED = {
    "seen_version": "0",
    "hp_cap_percent": "6",
    "cap_basis": "present or released, as used",
    "carbamide_pair_percent": "16.62",
    "min_age": "18",
    "age_basis": "law",
    "bond_dentist": "may_carry_out",
    "bond_hygienist": "on_prescription",
    "bond_therapist": "on_prescription",
    "bond_clinical_technician": "on_prescription",
    "bond_nurse": "may_not",
    "bond_other": "may_not",
    "may_examine": ["dentist"],
    "may_prescribe": ["dentist"],
    "exam_basis": "local",
    "cooling_off_days": "0",
    "clinician_in_cycles": "yes",
    "instrument": (
        "Cosmetic Products (Safety) (Amendment) Regulations 2012, then retained Regulation 1223/2009; Dentists Act 1984"
    ),
    "note": (
        "The regulator leaves an exception under 18 for use wholly to treat or prevent disease: a separate route "
        "outside this program."
    ),
    "reason": WHY,
    "source": WHERE,
    "quality": "seen",
    "checked_on": "2026-03-02",
}


@pytest.fixture
def manager(cast: Cast) -> Client:
    return sign_in(cast.manager)


def send(client: Client, code: str = "UK", **changed: object) -> Answer:
    return client.post(reverse("local_rule_change", args=[code]), TYPED | changed)


def read(client: Client, name: str, *args: object) -> str:
    return client.get(reverse(name, args=args)).content.decode()


def test_it_works(cast: Cast, manager: Client) -> None:
    assert send(manager, hp_cap_percent="5.5", cooling_off_days="2")["Location"] == reverse("local_rule", args=["UK"])
    row = LocalRuleChange.objects.get()
    assert row.values == {"hp_cap_percent": "5.5", "cooling_off_days": "2"}
    assert (row.code, row.version, row.made_over, row.reason, row.source) == ("UK", 1, "1", WHY, WHERE)
    assert (row.checked_on, row.changed_at, row.changed_by) == (date(2026, 3, 2), NOW, cast.manager)
    entry = TrailEntry.objects.latest("pk")
    assert (entry.verb, entry.subject_id, entry.site_id) == (
        "screening.local_rule_changed",
        str(row.pk),
        cast.fernbrook.pk,
    )
    assert {"hp_cap_percent", "cooling_off_days", "reason", "source", "checked_on"} <= set(entry.fields.split())
    page = read(manager, "local_rule", "UK")
    assert "At most 5.5 % hydrogen peroxide" in page
    assert "At most 6 % hydrogen peroxide" in page  # the program's row, beside it
    assert "2 days between the talk and the signature." in page
    assert page.count(escape(WHERE)) == 3  # beside each of the two, and in the list of versions


@pytest.mark.parametrize("who", ["desk", "assistant", "clinician", "hygienist"])
def test_wrong_role(cast: Cast, who: str) -> None:
    user = getattr(cast, who)
    client = sign_in(user)
    with nothing_written():
        assert send(client, hp_cap_percent="5").status_code == 403
        assert client.get(reverse("setup_local_rules")).status_code == 403
    # Reading is everybody's: a plan names the version that it was judged by.
    assert "Check again or change" not in read(client, "local_rule", "UK")
    with nothing_written(), pytest.raises(NotAllowed):
        change_local_rule(
            code="UK", details=details(), seen_version=0, at=cast.fernbrook, user=user, actor=actor_of(user), now=NOW
        )


def test_other_site(cast: Cast) -> None:
    with nothing_written(), pytest.raises(NotAllowed):
        change_local_rule(
            code="UK",
            details=details(),
            seen_version=0,
            at=cast.alderton,
            user=cast.manager,
            actor=actor_of(cast.manager),
            now=NOW,
        )


def test_wrong_method(manager: Client) -> None:
    with nothing_written():
        assert manager.put(reverse("local_rule_change", args=["UK"])).status_code == 405
        assert manager.post(reverse("local_rule", args=["UK"])).status_code == 405


def test_unknown_places(cast: Cast, manager: Client) -> None:
    with nothing_written():
        assert send(manager, "XX").status_code == 404
        for name, args in (("local_rule", ["XX"]), ("local_rule_version", ["UK", "7"]), ("local_rule_change", ["uk"])):
            assert manager.get(reverse(name, args=args)).status_code == 404
    who = {"user": cast.manager, "actor": actor_of(cast.manager), "at": cast.fernbrook}
    with nothing_written(), pytest.raises(LocalRuleUnknown):
        change_local_rule(code="XX", details=details(), seen_version=0, now=NOW, **who)  # type: ignore[arg-type]


NOT_KEPT = [
    # What is typed, the field beside which it is said, and a word of the sentence.
    ({"hp_cap_percent": "6.01"}, "hp_cap_percent", "new version of the program"),
    ({"hp_cap_percent": ""}, "hp_cap_percent", "new version of the program"),
    ({"hp_cap_percent": "six"}, "hp_cap_percent", "A number above 0"),
    ({"hp_cap_percent": "5,5"}, "hp_cap_percent", "A number above 0"),
    ({"min_age": "17"}, "min_age", "18 and over"),
    ({"min_age": "²0"}, "min_age", "18 and over"),
    ({"age_basis": "policy"}, "age_basis", "stands in law"),
    ({"bond_dentist": "may_not"}, "__all__", "at least one profession"),
    ({"may_examine": []}, "may_examine", "at least one profession"),
    ({"may_prescribe": []}, "may_prescribe", "name who may prescribe"),
    ({"cooling_off_days": "91"}, "cooling_off_days", "0 to 90"),
    ({"checked_on": "2026-03-04"}, "checked_on", "has not come yet"),
    ({"checked_on": "yesterday"}, "checked_on", ""),
    ({"reason": " "}, "reason", ""),
    ({"source": ""}, "source", ""),
    ({"quality": ""}, "quality", ""),
    ({"instrument": "\x00"}, "instrument", ""),
    ({"note": "x" * 1001}, "note", ""),
    ({"may_examine": ["barber"]}, "may_examine", ""),
    ({"may_prescribe": ["other"]}, "may_prescribe", ""),
    ({"bond_nurse": ""}, "bond_nurse", ""),
    ({"seen_version": "x"}, "seen_version", ""),
]


@pytest.mark.parametrize(("typed", "field", "sentence"), NOT_KEPT)
def test_what_is_not_kept(manager: Client, typed: dict[str, object], field: str, sentence: str) -> None:
    with nothing_written():
        page = send(manager, "UK", **typed)
    assert page.status_code == 422
    form = page.context["form"]
    assert list(form.errors) == [field]
    assert sentence in str(form.errors[field])
    assert "data-focus-errors" in page.content.decode()
    assert form["hp_cap_percent"].value() == typed.get("hp_cap_percent", "6")


def test_everything_that_stands_against_it_is_said_at_once(manager: Client) -> None:
    with nothing_written():
        page = send(manager, hp_cap_percent="12", age_basis="policy", checked_on="2027-01-01")
    assert set(page.context["form"].errors) == {"hp_cap_percent", "age_basis", "checked_on"}


def test_the_action_loosens_nothing_either(cast: Cast) -> None:
    for looser in ({"hp_cap_percent": "6.5"}, {"min_age": "17"}, {"hp_cap_percent": ""}):
        with nothing_written(), pytest.raises(LocalRuleNotKept):
            written_over(cast, **looser)  # type: ignore[arg-type]  # columns only
    with nothing_written(), pytest.raises(LocalRuleNotKept, match="has not come yet"):
        written_over(cast, checked_on=NOW.date() + timedelta(days=1))


def test_a_stale_form_shows_both_versions(manager: Client) -> None:
    send(manager, hp_cap_percent="5", may_examine=["dentist", "hygienist"])
    with nothing_written():
        page = send(manager, hp_cap_percent="5.5", reason="Another reason")
    assert page.status_code == 409
    assert page.context["theirs"] == [
        ("At most, % hydrogen peroxide as used", "5", "5.5"),
        ("Who may examine and plan", "dentist, dental hygienist", "dentist"),
        ("Why it is changed or kept", WHY, "Another reason"),
    ]
    assert "Somebody else changed this" in page.content.decode()
    assert page.context["form"]["seen_version"].value() == "1"
    assert send(manager, hp_cap_percent="5.5", seen_version="1").status_code == 302
    assert [row.version for row in LocalRuleChange.objects.order_by("version")] == [1, 2]


@pytest.mark.parametrize("seen", ["1", "99"])
def test_a_version_that_was_never_seen(manager: Client, seen: str) -> None:
    with nothing_written():
        assert send(manager, seen_version=seen).status_code == 409


def test_two_press_at_once(cast: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    """The second read before the first had written: the database refuses a second row of that version."""
    written_over(cast, hp_cap_percent="5")
    mine = details(hp_cap_percent="4")
    monkeypatch.setattr(changing, "newest_change", lambda _code: None)
    with nothing_written(), pytest.raises(ChangedMeanwhile):
        change_local_rule(
            code="UK",
            details=mine,
            seen_version=0,
            at=cast.fernbrook,
            user=cast.manager,
            actor=actor_of(cast.manager),
            now=NOW,
        )


def test_earlier_versions_stay_readable(manager: Client) -> None:
    send(manager, hp_cap_percent="5", note="Ours, first")
    send(manager, hp_cap_percent="4", note="Ours, second", seen_version="1")
    now = read(manager, "local_rule", "UK")
    assert "At most 4 %" in now
    for version in ("1.1", "1.2", "1"):
        assert reverse("local_rule_version", args=["UK", version]) in now
    first = read(manager, "local_rule_version", "UK", "1.1")
    assert "At most 5 %" in first
    assert "Ours, first" in first
    assert "This version is no longer in force." in first
    assert "Check again or change" not in first
    assert "At most 5 %" not in read(manager, "local_rule_version", "UK", "1")
    # What was written over is taken back by writing the program's own figure again.
    send(manager, hp_cap_percent="6", seen_version="2")
    assert LocalRuleChange.objects.latest("version").values == {}


def test_a_place_of_which_the_practice_writes_its_own(cast: Cast, manager: Client) -> None:
    Site.objects.filter(pk=cast.fernbrook.pk).update(jurisdiction="US-STATE")
    sentence = "write in what they say. Until then only a dentist carries it out."
    assert sentence in read(manager, "setup")
    assert "Write in what your own state or province says" in read(manager, "local_rule", "US-STATE")
    typed = {"hp_cap_percent": "", "carbamide_pair_percent": "", "bond_hygienist": "may_carry_out", "min_age": "21"}
    assert send(manager, "US-STATE", **typed).status_code == 302
    place = rule_of("US-STATE")
    assert place is not None
    assert (place.law_age, sorted(place.may_carry_out)) == (21, ["dentist", "hygienist"])
    assert sentence not in read(manager, "setup")


def test_older_than_a_year_is_said_in_set_up_and_on_today(cast: Cast, manager: Client) -> None:
    """Computed, so that it is done as soon as somebody has looked; the desk, who cannot, does not read it."""
    written_over(cast, checked_on=date(2025, 3, 3))
    sentence = "checked on Mon 3 Mar 2025, more than a year ago"
    for name in ("setup", "today"):
        assert sentence not in read(manager, name)
    written_over(cast, checked_on=date(2025, 3, 2))
    sentence = "United Kingdom: checked on Sun 2 Mar 2025, more than a year ago. Check the rules again."
    for name in ("setup", "today"):
        assert sentence in read(manager, name)
    assert reverse("local_rule", args=["UK"]) in read(manager, "today")
    assert "older than a year" in read(manager, "setup_local_rules")
    assert "checked more than a year ago" in read(manager, "local_rule", "UK")
    assert sentence not in read(sign_in(cast.desk), "today")
    with nothing_written():
        read(manager, "today")
    assert send(manager, seen_version="2").status_code == 302
    assert "It is written down that these rules were checked." in read(manager, "local_rule", "UK")
    for name in ("setup", "today", "setup_local_rules"):
        assert "a year" not in read(manager, name)


def test_the_list(cast: Cast, manager: Client) -> None:
    Site.objects.filter(pk=cast.fernbrook.pk).update(jurisdiction="NZ")
    page = read(manager, "setup_local_rules")
    assert "Local rules of 11 places" in page
    # Their own site's first, and only theirs is said to hold.
    assert page.index("New Zealand") < page.index("European Union")
    assert page.count("Holds at:") == 1


def test_the_plan_names_the_version(cast: Cast) -> None:
    case = chairs.a_case(cast)
    course.answered(cast, case)
    course.examined(cast, case)
    written_over(cast, cooling_off_days="1")
    course.planned(cast, case)
    page = read(sign_in(cast.clinician), "plan", case.pk)
    assert reverse("local_rule_version", args=["UK", "1.1"]) in page
    assert "UK, version 1.1" in page
