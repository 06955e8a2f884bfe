"""The practice words its consent anew: a version, looked at, compared, taken into use; refused by name."""

from datetime import datetime, timedelta

import pytest
from django.db import IntegrityError, connection, transaction
from django.test import Client
from django.urls import reverse
from django.utils.html import escape

from clinic.accounts.refusals import ChangedMeanwhile
from clinic.accounts.rights import NotAllowed
from clinic.trail.actor import SYSTEM
from clinic.trail.models import TrailEntry
from clinic.trail.record import record
from tests.answer import Answer
from tests.cast import NOW, Cast, sign_in
from tests.support import nothing_written
from tests.whitening import course
from tests.whitening.ownwords import LOOKS, NEWEST, by, checked, rows, used, written
from whitening.consent import versions
from whitening.consent.actions import (
    CheckDetails,
    CheckedTooEarly,
    InUseAlready,
    NoTranslation,
    UsedMeanwhile,
    WordingNotKept,
    WordingUnknown,
    record_check,
    take_into_use,
    write_wording,
)
from whitening.consent.actions import wordings as acting
from whitening.consent.models import OwnWording, WordingUse
from whitening.consent.wording import Fault, Wording, WordingRefused, body, shipped
from whitening.consent.wording_forms import WordingForm

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("at_now", "quick_paper")]


@pytest.fixture
def manager(cast: Cast) -> Client:
    return sign_in(cast.manager)


def typed(**changed: str) -> dict[str, str]:
    """The page as it comes, with a new element 3."""
    form = WordingForm.of(NEWEST, seen_version=0)
    fields = {name: str(value) for name, value in form.initial.items()}
    return fields | {"words_3": LOOKS, "reason": "Plainer"} | changed


def send(client: Client, *, language: str = "en", label: str = "2", **changed: str) -> Answer:
    return client.post(reverse("wording_change", args=[language, label]), typed(**changed))


def press(client: Client, label: str, seen: int = 0, language: str = "en") -> Answer:
    return client.post(reverse("wording_use", args=[language, label]), {"seen_number": str(seen)})


def read(client: Client, name: str, *args: object) -> str:
    return client.get(reverse(name, args=args)).content.decode()


def test_it_works(cast: Cast, manager: Client) -> None:
    assert send(manager)["Location"] == reverse("wording_version", args=["en", "2.1"])
    row = OwnWording.objects.get()
    assert (row.language, row.version, row.made_over, row.reason) == ("en", 1, "2", "Plainer")
    assert (row.written_at, row.written_by) == (NOW, cast.manager)
    held = versions.version_of("en", "2.1")
    assert held is not None
    assert held.elements[2].paragraphs == (LOOKS,)
    assert (held.elements[:2], held.elements[3:]) == (NEWEST[:2], NEWEST[3:])
    assert row.body == body(held.elements)
    # Written down it is in nobody's hands yet.
    in_use = versions.in_use("en")
    assert in_use is not None
    assert in_use.version == "2"
    entry = TrailEntry.objects.latest("pk")
    assert (entry.verb, entry.subject_id, entry.site_id) == (
        "consent.wording_written", str(row.pk), cast.fernbrook.pk,
    )  # fmt: skip


def test_taken_into_use_by_a_press_of_its_own(cast: Cast, manager: Client) -> None:
    send(manager)
    assert press(manager, "2.1")["Location"] == reverse("wording_version", args=["en", "2.1"])
    use = WordingUse.objects.get()
    assert (use.number, use.label, use.used_since, use.used_by) == (1, "2.1", NOW, cast.manager)
    assert TrailEntry.objects.latest("pk").verb == "consent.wording_used"
    page = read(manager, "setup_wording")
    assert page.index("version 2.1") < page.index("in use") < page.index("The program’s version 2")
    with nothing_written():
        refused = press(manager, "2.1", 1)
    assert refused.status_code == 409
    assert "This version is in use already." in refused.content.decode()
    # Back to the program's own words, by the same press.
    assert press(manager, "2", 1).status_code == 302
    assert versions.in_use("en") == versions.version_of("en", "2")


def test_the_page_of_a_version(cast: Cast, manager: Client) -> None:
    send(manager)
    page = " ".join(read(manager, "wording_version", "en", "2.1").split())
    assert "1 element differs from version 2, which is in use" in page
    assert "<del>" in page
    assert "taken out:" in page
    assert "Whitening is about looks alone.</ins>" in page
    # About an invented patient, with everything filled in.
    for words in (
        "Example Patient (invented)",
        "6 % hydrogen peroxide as used",
        "320.00 GBP",
        "That it looks natural.",
    ):
        assert words in page
    assert "{" not in page[page.index("wording-assembled") : page.index("</main>")]
    with nothing_written():
        read(manager, "wording_version", "en", "2.1")


def test_looking_at_it_first_keeps_nothing(manager: Client) -> None:
    with nothing_written():
        page = send(manager, look="1")
    assert page.status_code == 200
    said = " ".join(page.content.decode().split())
    assert "Nothing is kept yet" in said
    assert "1 element differs from the version in use" in said
    assert f"<p>{LOOKS}</p>" in said
    assert page.context["form"]["words_3"].value() == LOOKS


def test_looking_at_it_first_needs_no_reason(manager: Client) -> None:
    with nothing_written():
        page = send(manager, look="1", reason="")
        kept = send(manager, reason="")
    assert page.status_code == 200
    assert f"<p>{LOOKS}</p>" in " ".join(page.content.decode().split())
    # It is still asked for on the page, where it is kept.
    assert page.context["form"].fields["reason"].required
    assert (kept.status_code, list(kept.context["form"].errors)) == (422, ["reason"])


NOT_KEPT = [
    ({"words_5": " "}, "words_5", "Element 5 is missing: the other ways"),
    ({"words_15": "It costs {fee}."}, "words_15", "does not name {included}, {not_included}, {redo}, {valid_until}"),
    ({"words_2": "A gel with 6 %."}, "words_2", "does not name {strength}, {arches}"),
    ({"words_7": "Ask {the dentist}."}, "words_7", "braces stand only around"),
    ({"words_7": "Ask {dentist}."}, "words_7", "no plan gives {dentist} here"),
    ({"heading_9": ""}, "heading_9", "Element 9 needs a heading."),
    ({"source_21": ""}, "source_21", "Say where element 21 comes from."),
    ({"reason": " "}, "reason", ""),
    ({"heading_1": "x" * 121}, "heading_1", ""),
    ({"words_1": "\x00"}, "words_1", ""),
    ({"seen_version": "x"}, "seen_version", ""),
]


# Looking at it first says the same.
LOOKED = [({**change, "look": "1"}, field, sentence) for change, field, sentence in NOT_KEPT[:2]]


@pytest.mark.parametrize(("change", "field", "sentence"), [*NOT_KEPT, *LOOKED])
def test_what_is_not_kept(manager: Client, change: dict[str, str], field: str, sentence: str) -> None:
    with nothing_written():
        page = send(manager, **change)
    assert page.status_code == 422
    form = page.context["form"]
    assert list(form.errors) == [field]
    assert sentence in str(form.errors[field]).replace("&#x27;", "'")
    assert "data-focus-errors" in page.content.decode()
    assert form["words_6"].value() == "\n\n".join(NEWEST[5].paragraphs)


def test_the_same_words_are_no_new_version(manager: Client) -> None:
    with nothing_written():
        page = send(manager, words_3=NEWEST[2].paragraphs[0])
        assert send(manager, words_3=NEWEST[2].paragraphs[0], look="1").status_code == 200
    assert page.status_code == 422
    assert "These are the words of version 2 already." in page.content.decode()


def test_the_action_keeps_no_less_either(cast: Cast) -> None:
    who = {"language": "en", "seen_version": 0, "now": NOW, **by(cast)}
    with nothing_written():
        with pytest.raises(WordingNotKept, match="Element 21 is missing"):
            write_wording(elements=rows()[:20], reason="Shorter", **who)
        with pytest.raises(WordingNotKept, match="what was changed"):
            write_wording(elements=rows(), reason=" ", **who)
        with pytest.raises(WordingUnknown):
            write_wording(elements=rows(), reason="Plainer", **who | {"language": "xx"})
        with pytest.raises(WordingUnknown):
            take_into_use(label="2.9", seen_number=0, now=NOW, language="en", **by(cast))
        with pytest.raises(InUseAlready):
            take_into_use(label="2", seen_number=0, now=NOW, language="en", **by(cast))
    row = written(cast)
    with nothing_written(), pytest.raises(NoTranslation):
        checked(cast, row)


def test_an_old_version_that_lacks_something_by_now_stays_readable(
    cast: Cast, manager: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    row = written(cast)
    monkeypatch.setattr(acting, "read", refuse_everything)
    with nothing_written():
        refused = press(manager, row.label)
    assert refused.status_code == 409
    assert "Element 3 lacks something." in refused.content.decode()
    assert LOOKS in read(manager, "wording_version", "en", row.label)


def refuse_everything(language: str, _content: object) -> None:
    raise WordingRefused(language, [Fault(3, "words", "Element 3 lacks something.")])


@pytest.mark.parametrize("who", ["desk", "assistant", "clinician", "hygienist"])
def test_wrong_role(cast: Cast, who: str) -> None:
    user = getattr(cast, who)
    client, row = sign_in(user), written(cast)
    with nothing_written():
        assert send(client).status_code == 403
        assert press(client, row.label).status_code == 403
        assert client.get(reverse("setup_wording")).status_code == 403
        with pytest.raises(NotAllowed):
            write_wording(
                language="en", elements=rows(4, heading="New"), reason="x", seen_version=1, now=NOW,
                **by(cast) | {"user": user},
            )  # fmt: skip
    # Reading is everybody's: a consent names the version that it was signed with.
    page = read(client, "wording_version", "en", row.label)
    assert LOOKS in page
    assert "Write a new version" not in page


def test_other_site(cast: Cast) -> None:
    row = written(cast)
    elsewhere = by(cast) | {"at": cast.alderton}
    with nothing_written():
        with pytest.raises(NotAllowed):
            write_wording(
                language="en", elements=rows(4, heading="New"), reason="x", seen_version=1, now=NOW, **elsewhere
            )
        with pytest.raises(NotAllowed):
            take_into_use(language="en", label=row.label, seen_number=0, now=NOW, **elsewhere)


def test_wrong_method_and_unknown_versions(manager: Client) -> None:
    with nothing_written():
        assert manager.get(reverse("wording_use", args=["en", "2"])).status_code == 405
        assert manager.put(reverse("wording_change", args=["en", "2"])).status_code == 405
        assert press(manager, "2", seen=-1).status_code == 422
        for label in ("1", "2.1", "2.x", "2.²", "2.1234567890"):
            assert manager.get(reverse("wording_version", args=["en", label])).status_code == 404
            assert send(manager, label=label).status_code == 404
        assert manager.get(reverse("wording_version", args=["xx", "2"])).status_code == 404
        assert send(manager, language="xx").status_code == 404


def test_a_stale_form_shows_both_versions(manager: Client) -> None:
    send(manager, heading_4="What you can hope for")
    # As a browser sends two paragraphs: nothing that anybody changed.
    same = "\r\n \r\n".join(NEWEST[5].paragraphs)
    with nothing_written():
        page = send(manager, words_3="It is about looks.", words_6=same, reason="Shorter")
    assert page.status_code == 409
    assert page.context["theirs"] == [
        ("What you change, and why", "Plainer", "Shorter"),
        ("Words of 3", LOOKS, "It is about looks."),
        ("Heading of 4", "What you can hope for", "What to expect"),
    ]
    assert "Somebody else changed this" in page.content.decode()
    assert page.context["form"]["seen_version"].value() == "1"
    assert send(manager, words_3="It is about looks.", seen_version="1").status_code == 302
    assert [row.label for row in OwnWording.objects.order_by("version")] == ["2.1", "2.2"]


def test_two_write_at_once(cast: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    """The second read before the first had written: the database refuses a second row of that version."""
    written(cast)
    monkeypatch.setattr(versions, "newest_own", lambda _language: None)
    with nothing_written(), pytest.raises(ChangedMeanwhile):
        write_wording(language="en", elements=rows(4, heading="New"), reason="x", seen_version=0, now=NOW, **by(cast))


def test_two_take_into_use_at_once(cast: Cast, manager: Client, monkeypatch: pytest.MonkeyPatch) -> None:
    first, second = written(cast), written(cast, number=4, heading="New")
    used(cast, first)
    with nothing_written():
        refused = press(manager, second.label)
        assert refused.status_code == 409
    assert "Somebody else took a version into use since" in refused.content.decode()
    monkeypatch.setattr(versions, "newest_use", lambda _language: None)
    monkeypatch.setattr(versions, "in_use", lambda _language: versions.version_of("en", "2"))
    with nothing_written(), pytest.raises(UsedMeanwhile):
        take_into_use(language="en", label=second.label, seen_number=0, now=NOW, **by(cast))


def test_none_of_it_is_changed_or_taken_out(cast: Cast) -> None:
    used(cast, written(cast))
    checked(cast, written(cast, "es"))
    for table in ("ownwording", "wordinguse", "translationcheck"):
        name = f"whitening_consent_{table}"
        for sql in (f"UPDATE {name} SET id = id", f"DELETE FROM {name}"):  # noqa: S608  (our own names)
            with nothing_written(), pytest.raises(IntegrityError, match="only grows"), transaction.atomic():
                connection.cursor().execute(sql)


def test_earlier_versions_stay_readable(cast: Cast, manager: Client) -> None:
    used(cast, written(cast))
    used(cast, written(cast, paragraphs=["It is about looks."]))
    page = read(manager, "setup_wording")
    for label in ("2", "2.1", "2.2"):
        assert reverse("wording_version", args=["en", label]) in page
    first = read(manager, "wording_version", "en", "2.1")
    assert LOOKS in first
    assert "Not in use" in first
    assert escape(cast.manager.name) in first


def in_use(language: str = "en") -> dict[str, list[tuple[datetime | None, datetime | None]]]:
    found = versions.all_versions(language)
    return {one.wording.version: [(each.since, each.until) for each in one.periods] for one in found}


def test_since_when_each_version_was_in_use(cast: Cast, manager: Client) -> None:
    """The program's too: from the beginning, until the practice used its own."""
    assert in_use() == {"2": [(None, None)]}
    assert "came with the program" in read(manager, "setup_wording")
    with transaction.atomic():
        record(
            verb="accounts.practice_started",
            actor=SYSTEM,
            subject=("practice", 1),
            patient_id=None,
            site_id=None,
            values={"name": "Fernbrook"},
        )
    assert in_use() == {"2": [(NOW, None)]}
    first, second = written(cast), written(cast, paragraphs=["It is about looks."])
    days = [NOW + timedelta(days=number) for number in (1, 3, 7)]
    used(cast, first, now=days[0])
    used(cast, second, now=days[1])
    take_into_use(language="en", label="2", seen_number=2, now=days[2], **by(cast))
    assert in_use() == {
        "2": [(days[2], None), (NOW, days[0])],
        "2.1": [(days[0], days[1])],
        "2.2": [(days[1], days[2])],
    }
    page = " ".join(read(manager, "setup_wording").split())
    for words in ("in use since Tue 10 Mar 2026", "in use from Tue 3 Mar 2026", "to Wed 4 Mar 2026"):
        assert words in page
    assert "Never in use" not in read(manager, "wording_version", "en", "2")


def test_a_text_that_was_made_from_them_is_older_than_the_record(cast: Cast) -> None:
    """Of words that a later program brought, the first text is all that tells since when."""
    course.signed(cast, course.ready_to_sign(cast))
    assert in_use()["2"] == [(course.SIGNED_AT, None)]


def test_a_translation_is_in_use_once_it_was_checked(cast: Cast) -> None:
    came = shipped()["de"][-1]
    assert in_use("de") == {came.version: []}
    details = CheckDetails(name="Ines Weber", qualification="sworn translator", checked_on=NOW.date())
    checked_at = NOW + timedelta(hours=2)
    record_check(language="de", label=came.version, details=details, now=checked_at, **by(cast))
    assert in_use("de") == {came.version: [(checked_at, None)]}


def test_newer_words_of_the_program_are_said(cast: Cast, manager: Client, monkeypatch: pytest.MonkeyPatch) -> None:
    sentence = "English: the program brought newer words than those in use."
    used(cast, written(cast))
    assert sentence not in read(manager, "setup")
    came = shipped()["en"][-1]
    newer = Wording("en", "3", "New", came.elements)
    monkeypatch.setattr(versions, "shipped", lambda: {"en": (came, newer)})
    assert sentence in read(manager, "setup")
    assert "The program brought newer words" in read(manager, "wording_version", "en", "2.1")


def test_checked_before_the_words_were_written(cast: Cast) -> None:
    own = written(cast, "de")
    with nothing_written(), pytest.raises(CheckedTooEarly, match="Nobody can have checked them before that day"):
        checked(cast, own, on=NOW.date() - timedelta(days=1))
    assert checked(cast, own, on=NOW.date()).checked_on == NOW.date()
