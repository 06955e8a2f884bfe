"""What stands against a practice's own words, and that whatever is let through can be filled in."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from clinic.messages.letters import one_line
from clinic.messages.wordings.faults import faults_of, fill
from clinic.messages.wordings.given import LINK, NAME, NUMBER, PRACTICE
from clinic.messages.wordings.lengths import length_of
from clinic.messages.wordings.saying import filled_text
from clinic.messages.wordings.slots import OwnWords, Part
from clinic.messages.words import clinical_in_any_language

OWN = OwnWords(slots=(NAME, PRACTICE, NUMBER, LINK))
VALUES = {"name": "Amara", "practice": "Fernbrook", "number": "+44 20 7946 0100", "link": "https://example.org/p/l/x/"}
GOOD_SMS = "{practice}: your page is {link} or call {number}"


def sentences(part: Part, text: str, *, names: tuple[str, ...] = ("Fernbrook",)) -> list[str]:
    return [fault.sentence for fault in faults_of(OWN, part, text, names=names, examples=[VALUES])]


@pytest.mark.parametrize(
    ("part", "text"),
    [
        (Part.SUBJECT, "Your page"),
        (Part.SUBJECT, "Your page at {practice}"),
        (Part.TEXT, "Hello {name},\n\nwhitening, gel and teeth may be named here:\n{link}\n\tCall {number}."),
        (Part.TEXT, "{link}"),
        (Part.SMS, GOOD_SMS),
        (Part.SMS, "{link}{practice}{number}{link}"),
        # What stands on the practice's own sign.
        (Part.SUBJECT, "Bright Teeth Rooms writes to you"),
    ],
)
def test_what_is_kept(part: Part, text: str) -> None:
    assert sentences(part, text, names=("Fernbrook", "Bright Teeth Rooms")) == []


@pytest.mark.parametrize(
    ("part", "text", "said"),
    [
        (Part.SUBJECT, "", "Write something here."),
        (Part.TEXT, " \n ", "Write something here."),
        (Part.SUBJECT, "x" * 121, "120 characters fit here, and there are 121."),
        (Part.TEXT, "{link}" + "x" * 4000, "4000 characters fit here, and there are 4006."),
        (Part.SUBJECT, "One\nBcc: somebody@example.org", "a character in it that is no text"),
        (Part.SUBJECT, "One\r\nTwo", "a character in it that is no text"),
        (Part.SUBJECT, "A\u2028B", "a character in it that is no text"),
        (Part.SUBJECT, "A\tB", "a character in it that is no text"),
        (Part.SUBJECT, "A\x00B", "a character in it that is no text"),
        (Part.SUBJECT, "\u202etxt.exe", "a character in it that is no text"),
        (Part.TEXT, "{link}\x1b[31m", "a character in it that is no text"),
        (Part.SMS, f"{GOOD_SMS}\n", "a character in it that is no text"),
        (
            Part.TEXT,
            "{link} {date}",
            "This message does not know {date}. It knows: {name}, {practice}, {number}, {link}.",
        ),
        (Part.SUBJECT, "{Practice}", "This message does not know {Practice}. It knows: {practice}."),
        (Part.SUBJECT, "For {name}", "{name} must not stand here: it would show on a locked screen."),
        (Part.SMS, f"{GOOD_SMS} {{name}}", "{name} must not stand here"),
        (Part.SUBJECT, "See {link}", "{link} must not stand here"),
        (Part.TEXT, "No link at all", "{link} is missing: the patient’s own page"),
        (Part.SMS, "{practice}: {link}", "{number} is missing: the telephone number of the site."),
        (Part.SMS, "{number} {link}", "{practice} is missing: the name of the site."),
        (Part.TEXT, "{link} {", "A brace stands alone."),
        (Part.TEXT, "{link} }", "A brace stands alone."),
        (Part.TEXT, "{{link}}", "A brace stands alone."),
        (Part.TEXT, "{link} { name }", "A brace stands alone."),
        (Part.TEXT, "{link} {}", "A brace stands alone."),
        (Part.TEXT, "{link} {name!r}", "A brace stands alone."),
        (Part.TEXT, "{link} {name.pk}", "A brace stands alone."),
        (Part.SUBJECT, "Your whitening", "take out “whitening”"),
        (Part.SMS, f"{GOOD_SMS} about your teeth", "take out “teeth”"),
        # In whatever language somebody writes: nobody knows which.
        (Part.SUBJECT, "Ihre Zahnaufhellung", "take out “Zahnaufhellung”"),
        (Part.SUBJECT, "Su blanqueamiento", "take out “blanqueamiento”"),
        (Part.SUBJECT, "موعد تبييض أسنانك", "take out “تبييض”, “أسنانك”"),
        (Part.SMS, GOOD_SMS + "x" * 260, "It takes 3 parts on the telephone, and 2 are the most. Shorten it."),
        (Part.SMS, GOOD_SMS + "ш" * 160, "do without ш, which make every part half as long."),
    ],
)
def test_what_is_refused(part: Part, text: str, said: str) -> None:
    assert said in " ".join(sentences(part, text))


def test_everything_at_once() -> None:
    assert len(sentences(Part.SMS, "Your gel, {name} {")) == 6


def test_the_longest_of_all_sites_counts() -> None:
    long = VALUES | {"practice": "F" * 300}
    assert [one.part for one in faults_of(OWN, Part.SMS, GOOD_SMS, examples=[VALUES, long, VALUES])] == [Part.SMS]


def test_the_same_word_is_named_once() -> None:
    assert clinical_in_any_language("gel, GEL and gel", except_for=["A sign"]) == ["gel", "GEL"]


def test_a_value_is_never_filled_in_again() -> None:
    assert fill("{name}: {link}", VALUES | {"name": "{link}"}) == "{link}: https://example.org/p/l/x/"


@pytest.mark.parametrize(
    ("text", "filled"),
    [
        ("Hello,\n\n{name}\n\nBye", "Hello,\n\nBye\n"),
        ("It is.  {name} Bye", "It is. Bye\n"),
        ("A\n\n\n\n\nB  ", "A\n\nB\n"),
    ],
)
def test_what_says_nothing_leaves_no_gap(text: str, filled: str) -> None:
    assert filled_text(text, {"name": ""}) == filled


_PIECES = st.one_of(
    st.sampled_from(
        ["{name}", "{practice}", "{number}", "{link}", "{date}", "{", "}", "{}", "{{", "{na\nme}", "{ name}"]
    ),
    st.text(max_size=12),
)
_TEXTS = st.lists(_PIECES, max_size=12).map("".join)
# A patient may be called anything but this once, so that a brace that is left can only be the text's own.
_NAMES = st.text(st.characters(exclude_characters="{}"), max_size=20)


@given(text=_TEXTS, part=st.sampled_from(Part), name=_NAMES)
def test_whatever_is_kept_can_be_filled_in(text: str, part: Part, name: str) -> None:
    if faults_of(OWN, part, text, examples=[VALUES]):
        return
    values = VALUES | {"name": name}
    said = filled_text(text, values) if part is Part.TEXT else one_line(fill(text, values))
    assert not set("{}") & set(said)
    if part is not Part.TEXT:
        assert len(said.splitlines()) <= 1
    if part is Part.SMS:
        assert not length_of(said).is_too_long
        assert all(VALUES[name] in said for name in ("practice", "number", "link"))


@given(text=_TEXTS)
def test_the_check_itself_never_fails(text: str) -> None:
    for part in Part:
        assert all(fault.sentence for fault in faults_of(OWN, part, text, examples=[VALUES]))
