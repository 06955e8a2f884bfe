"""The practice words its messages itself: written, looked at, taken back; refused by name, and every version kept."""

from typing import Any

import pytest
from django.db import IntegrityError, connection, transaction
from django.test import Client
from django.urls import reverse
from django.utils.html import escape
from pytest_django import DjangoAssertNumQueries

from clinic.accounts.models import Site
from clinic.accounts.refusals import ChangedMeanwhile
from clinic.accounts.rights import NotAllowed
from clinic.messages import kinds
from clinic.messages.actions import wording as acting
from clinic.messages.actions.wording import (
    NoOwnWords,
    ProgramsWords,
    ProgramsWordsAlready,
    SameWords,
    Which,
    WordsNotKept,
    back_to_program,
    write_words,
)
from clinic.messages.models import Wording
from clinic.messages.wordings import missing
from clinic.messages.wordings.current import read_once, words_of
from clinic.messages.wordings.saying import program_words
from clinic.trail.models import TrailEntry
from tests.answer import Answer
from tests.cast import NOW, Cast, sign_in
from tests.support import nothing_written

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("at_now")]

SMS = Which("new_link", "text", "en")
MAIL = Which("new_link", "email", "en")
OURS = "{practice} here. Your page: {link} Questions: {number}"
SUBJECT, TEXT = (
    "Your page at {practice}",
    "Good day,\n\nthis is the page you asked for:\n{link}\n\nCall {number} any time.",
)


@pytest.fixture
def manager(cast: Cast) -> Client:
    return sign_in(cast.manager)


def by(cast: Cast, **changed: Any) -> dict[str, Any]:
    return {"at": cast.fernbrook, "user": cast.manager, "actor": cast.manager.actor, "now": NOW} | changed


def written(cast: Cast, *, which: Which = SMS, text: str = OURS, subject: str = "", seen: int = 0) -> Wording:
    return write_words(which=which, subject=subject, text=text, seen_number=seen, **by(cast))


def send(client: Client, which: Which = SMS, **fields: str) -> Answer:
    return client.post(reverse("message_words", args=which), {"seen_number": "0", "text": OURS} | fields)


def back(client: Client, which: Which = SMS, seen: int = 1) -> Answer:
    return client.post(reverse("message_words_back", args=which), {"seen_number": str(seen)})


def read(client: Client, which: Which = SMS) -> str:
    return " ".join(client.get(reverse("message_words", args=which)).content.decode().split())


def last() -> TrailEntry:
    return TrailEntry.objects.latest("pk")


def test_it_works(cast: Cast, manager: Client) -> None:
    assert send(manager)["Location"] == reverse("message_words", args=SMS)
    row = Wording.objects.get()
    assert (row.kind, row.channel, row.language, row.number, row.subject, row.text) == (*SMS, 1, "", OURS)
    assert (row.written_at, row.written_by) == (NOW, cast.manager)
    assert words_of(*SMS) == row
    entry = last()
    assert (entry.verb, entry.subject_kind, entry.subject_id, entry.site_id) == (
        "messages.words_written", "message_wording", str(row.pk), cast.fernbrook.pk,
    )  # fmt: skip
    page = read(manager)
    assert "Your practice’s own words" in page
    assert "Mara O’Neill" in page


def test_a_mail_has_a_subject_and_a_text(manager: Client) -> None:
    assert send(manager, MAIL, subject=SUBJECT, text=TEXT.replace("\n", "\r\n")).status_code == 302
    row = Wording.objects.get()
    assert (row.subject, row.text) == (SUBJECT, TEXT)
    assert words_of(*SMS) is None


def test_the_page_begins_with_the_programs_words(manager: Client) -> None:
    with nothing_written():
        page = manager.get(reverse("message_words", args=SMS))
    begun = "{practice}: your new page {link} {number}"
    assert page.context["form"]["text"].value() == begun
    said = page.content.decode()
    assert said.count(begun) == 2
    assert "It takes 1 part on the telephone: " in said
    assert "Fernbrook Dental Rooms: your new page http" in said
    assert "Use the program’s words again" not in said
    for braces in ("{practice}", "{link}", "{number}"):
        assert f'<dt><bdi class="digits" dir="ltr">{braces}</bdi></dt>' in said


def test_looking_at_it_first_keeps_nothing(manager: Client) -> None:
    with nothing_written():
        page = send(manager, MAIL, subject=SUBJECT, text=f"{TEXT}\n\n<b>Bring & tell</b>", look="1")
    assert page.status_code == 200
    said = page.content.decode()
    assert "Nothing is kept yet" in said
    assert "<strong>Your page at Fernbrook Dental Rooms</strong>" in said
    assert "this is the page you asked for:\nhttp" in said
    # What is typed is text, on this page too.
    assert "&lt;b&gt;Bring &amp; tell&lt;/b&gt;" in said
    # The foot that follows by itself.
    assert "1 Fernbrook Street, Fernbrook" in said


def test_looking_says_what_stands_against_it(manager: Client) -> None:
    with nothing_written():
        page = send(manager, text="{practice} {number}", look="1")
    assert page.status_code == 422
    assert "{link} is missing" in page.content.decode()


NOT_KEPT = [
    (SMS, {"text": ""}, "text", "Write something here."),
    (SMS, {"text": OURS + " {date}"}, "text", "This message does not know {date}."),
    (SMS, {"text": OURS + " {"}, "text", "A brace stands alone."),
    (SMS, {"text": "{practice}: {link}"}, "text", "{number} is missing"),
    (SMS, {"text": OURS + " Bring your gel."}, "text", "take out “gel”"),
    (SMS, {"text": OURS + "x" * 240}, "text", "It takes 3 parts"),
    (SMS, {"text": OURS + "\x07"}, "text", ""),
    (SMS, {"seen_number": "x"}, "seen_number", ""),
    (MAIL, {"subject": "", "text": TEXT}, "subject", "Write something here."),
    (MAIL, {"subject": "Your teeth", "text": TEXT}, "subject", "take out “teeth”"),
    (MAIL, {"subject": "For {number}", "text": TEXT}, "subject", "{number} must not stand here"),
    (MAIL, {"subject": SUBJECT, "text": "Good day"}, "text", "{link} is missing"),
    (MAIL, {"subject": "x" * 121, "text": TEXT}, "subject", ""),
    (MAIL, {"subject": SUBJECT, "text": TEXT + "x" * 4000}, "text", ""),
]


@pytest.mark.parametrize(("which", "fields", "field", "sentence"), NOT_KEPT)
def test_what_is_not_kept(manager: Client, which: Which, fields: dict[str, str], field: str, sentence: str) -> None:
    with nothing_written():
        page = send(manager, which, **fields)
    assert page.status_code == 422
    errors = page.context["form"].errors[field]
    assert errors
    assert sentence in " ".join(errors)
    if sentence:
        # Otherwise the sentence is the form's own, in the words of the shell.
        assert escape(errors[0]) in page.content.decode()
    # What was typed stays.
    assert all(page.context["form"][name].value() == value for name, value in fields.items())


@pytest.mark.parametrize("subject", ["One\nBcc: a@example.org", "One\r\nTwo", "A\x00B"])
def test_no_other_way_in_brings_a_second_line_into_a_subject(cast: Cast, subject: str) -> None:
    with nothing_written(), pytest.raises(WordsNotKept, match="a character in it that is no text"):
        written(cast, which=MAIL, subject=subject, text=TEXT)


def test_the_longest_site_counts(cast: Cast) -> None:
    """The words are the whole practice's: a text that is short enough here may not be there."""
    plain = Which("visit_cancelled", "text", "en")
    text = "{practice}: no visit on {date}. " + "x" * 220 + " {number}"
    Site.objects.filter(pk=cast.alderton.pk).update(name="Alderton " * 12)
    with nothing_written(), pytest.raises(WordsNotKept, match="It takes 3 parts"):
        written(cast, which=plain, text=text)
    Site.objects.filter(pk=cast.alderton.pk).update(name="Alderton")
    assert written(cast, which=plain, text=text).number == 1


@pytest.mark.parametrize(
    "which",
    [
        Which("code", "text", "en"),
        Which("on_call_alert", "email", "en"),
        Which("nothing", "email", "en"),
        Which("new_link", "letter", "en"),
        Which("new_link", "text", "xx"),
    ],
)
def test_where_there_is_nothing_to_word(cast: Cast, manager: Client, which: Which) -> None:
    with nothing_written():
        assert send(manager, which).status_code == 404
        assert back(manager, which).status_code == 404
        with pytest.raises(NoOwnWords):
            written(cast, which=which)


def test_only_who_sets_up(cast: Cast) -> None:
    written(cast)
    with nothing_written():
        with pytest.raises(NotAllowed):
            write_words(which=SMS, text=f"{OURS}!", seen_number=1, **by(cast, user=cast.clinician))
        with pytest.raises(NotAllowed):
            back_to_program(which=SMS, seen_number=1, **by(cast, user=cast.desk))


def test_back_to_the_programs_words(cast: Cast, manager: Client) -> None:
    written(cast)
    assert back(manager)["Location"] == reverse("message_words", args=SMS)
    assert words_of(*SMS) is None
    assert last().verb == "messages.words_given_up"
    assert list(Wording.objects.order_by("number").values_list("number", "text")) == [(1, OURS), (2, "")]
    page = read(manager)
    assert "Version 2: the program’s words again" in page
    assert "Version 1" in page
    with nothing_written():
        refused = back(manager, seen=2)
    assert refused.status_code == 409
    assert "The program’s words hold already." in refused.content.decode()
    # And once more forwards.
    assert written(cast, seen=2).number == 3


def test_nothing_to_go_back_from(cast: Cast, manager: Client) -> None:
    with nothing_written():
        with pytest.raises(ProgramsWordsAlready):
            back_to_program(which=SMS, seen_number=0, **by(cast))
        assert back(manager, seen=0).status_code == 409
        assert manager.post(reverse("message_words_back", args=SMS)).status_code == 422


def test_the_same_words_are_no_version(cast: Cast, manager: Client) -> None:
    begun = program_words(kinds.get("new_link")).sms
    with nothing_written(), pytest.raises(ProgramsWords):
        written(cast, text=begun)
    written(cast)
    with nothing_written():
        with pytest.raises(SameWords):
            written(cast, seen=1)
        refused = send(manager, seen_number="1")
    assert refused.status_code == 422
    assert "These words hold already." in refused.content.decode()


def test_somebody_was_quicker(cast: Cast, manager: Client) -> None:
    written(cast, text=f"{OURS} Theirs.")
    with nothing_written():
        page = send(manager, text=f"{OURS} Mine.")
    assert page.status_code == 409
    said = page.content.decode()
    assert f"{OURS} Theirs." in said
    assert f"{OURS} Mine." in said
    # The next press keeps this one.
    again = {name: str(page.context["form"][name].value()) for name in ("seen_number", "text")}
    assert again["seen_number"] == "1"
    assert send(manager, SMS, **again).status_code == 302
    assert words_of(*SMS) == Wording.objects.get(number=2)
    with nothing_written():
        assert back(manager, seen=1).status_code == 409


def test_two_presses_at_the_same_moment(cast: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    """Whoever looked before the other wrote is stopped by the table itself."""
    written(cast, text=f"{OURS} Theirs.")
    monkeypatch.setattr(acting, "newest_of", lambda *_which: None)
    with nothing_written(), pytest.raises(ChangedMeanwhile):
        written(cast)


def test_another_fault_of_the_database_is_none_of_these(cast: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(**_values: object) -> None:
        raise IntegrityError("something else")

    monkeypatch.setattr(acting, "record", broken)
    with nothing_written(), pytest.raises(IntegrityError, match="something else"):
        written(cast)


def test_what_changed_between_versions(cast: Cast, manager: Client) -> None:
    written(cast)
    written(cast, text=OURS.replace("Questions", "Wishes"), seen=1)
    page = read(manager)
    newer, older = page[page.index("Version 2") : page.index("Version 1")], page[page.index("Version 1") :]
    assert "</span>Questions:</del>" in newer
    assert "</span>Wishes:</ins>" in newer
    # The first is compared with what the program said.
    assert "</span>{practice}:" in older


@pytest.mark.parametrize(
    "values",
    [
        {"number": 0},
        {"channel": "letter"},
        {"subject": "One"},
        {"channel": "email"},
        {"channel": "email", "subject": "One", "text": ""},
        {"number": 1},
    ],
)
def test_the_table_refuses(cast: Cast, values: dict[str, Any]) -> None:
    row = written(cast)
    whole = {"kind": "new_link", "channel": "text", "language": "en", "number": 2, "text": "x"}
    with nothing_written(), pytest.raises(IntegrityError), transaction.atomic():
        Wording.objects.create(**whole | values, written_at=NOW, written_by=cast.manager)
    for statement in ("UPDATE {} SET text = 'y' WHERE id = %s", "DELETE FROM {} WHERE id = %s"):
        with nothing_written(), pytest.raises(IntegrityError), transaction.atomic(), connection.cursor() as cursor:
            cursor.execute(statement.format(Wording._meta.db_table), [row.pk])


def test_the_list(cast: Cast, manager: Client) -> None:
    written(cast)
    page = manager.get(reverse("setup_messages"))
    lines = {line.kind.code: line for group in page.context["groups"] for line in group.lines}
    own = {(code, cell.channel.value) for code, line in lines.items() for cell in line.cells if cell.row}
    assert own == {("new_link", "text")}
    assert page.content.decode().count("your own words") == 1
    german = manager.get(reverse("setup_messages"), {"language": "de"}).content.decode()
    assert "your own words" not in german
    assert "messages go out in English, and what stands here waits" in german
    assert manager.get(reverse("setup_messages"), {"language": "xx"}).context["language"].code == "en"


def test_words_that_a_newer_program_asks_more_of(cast: Cast, manager: Client) -> None:
    """Kept under an earlier one: Set-up says so, and the page shows what goes out instead."""
    lacking = {"kind": "new_link", "channel": "text", "language": "en", "text": "{practice} {link}"}
    Wording.objects.create(**lacking, number=1, written_at=NOW, written_by=cast.manager)
    [sentence] = missing.of_words(cast.fernbrook)
    assert sentence.startswith(
        "“new link” (text message, English): your words do not fit, so the program’s go out. {number} is missing"
    )
    row = Wording.objects.create(
        **(lacking | {"text": "{practice}"}), number=2, written_at=NOW, written_by=cast.manager
    )
    [sentence] = missing.of_words(cast.fernbrook)
    # The overview gives one reason, the page each in a line of its own.
    assert "{link} is missing" not in sentence
    assert sentence.endswith(" 1 more on its page.")
    assert read(manager).count(" is missing: ") == 2
    assert "not used: they do not fit" in manager.get(reverse("setup_messages")).content.decode()
    page = read(manager)
    assert "Your words do not fit, so the program’s go out." in page
    assert "Fernbrook Dental Rooms: your new page http" in page
    written(cast, seen=row.number)
    assert missing.of_words(cast.fernbrook) == []


def test_one_query_however_many_are_asked_for(cast: Cast, django_assert_num_queries: DjangoAssertNumQueries) -> None:
    row = written(cast)
    with django_assert_num_queries(1), read_once():
        assert [words_of(*SMS), words_of(*MAIL), words_of(*SMS)] == [row, None, row]
    # A change counts from the next batch on.
    written(cast, text=f"{OURS}!", seen=1)
    with read_once():
        assert words_of(*SMS) == Wording.objects.get(number=2)
    with django_assert_num_queries(0), read_once():
        pass
