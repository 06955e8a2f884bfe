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

OWN = OwnWords(slots=(NAME, PRACTICE, NUMBER, LINK))
VALUES = {"name": "Amara", "practice": "Fernbrook", "number": "+44 20 7946 0100", "link": "https://example.org/p/l/x/"}
GOOD_SMS = "{practice}: your page is {link} or call {number}"


def sentences(part: Part, text: str, *, names: tuple[str, ...] = ("Fernbrook",), language: str = "en") -> list[str]:
    faults = faults_of(OWN, part, text, language=language, names=names, examples=[VALUES])
    return [fault.sentence for fault in faults]


@pytest.mark.parametrize(
    ("part", "text"),
    [
        (Part.SUBJECT, "Your page"),
        (Part.SUBJECT, "Your page at {practice}"),
        (Part.TEXT, "Hello {name},\n\nwhitening, gel and teeth may be named here:\n{link}\n\tCall {number}."),
        (Part.TEXT, "{link}"),
        (Part.SMS, GOOD_SMS),
        (Part.SMS, "{link} {practice}{number} {link}"),
        # What stands on the practice's own sign.
        (Part.SUBJECT, "Bright Teeth Rooms writes to you"),
        (Part.SUBJECT, "BRIGHT TEETH ROOMS writes to you"),
        # A word of another language's list.
        (Part.SUBJECT, "A sensible time"),
        (Part.TEXT, "Here:\n\t{link}\n{link}"),
        (Part.TEXT, "Here:\u00a0{link}\u3000{name}"),
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
        (Part.TEXT, "{link} " + "x" * 4000, "4000 characters fit here, and there are 4007."),
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
        (Part.TEXT, "No link at all", "{link} is missing: the address of the patient’s own page"),
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
        # Nothing that anybody sees.
        (Part.SUBJECT, "\u200b\u200e", "Write something here."),
        (Part.TEXT, "\u3164\u2800 \ufe0f", "Write something here."),
        (Part.SUBJECT, "Your white\u00adning", "take out “whitening”"),
        (Part.SUBJECT, "Your white\u00adning", "a character in it that is no text"),
        (Part.SUBJECT, "Yo\u200bur page", "one that nobody sees"),
        (Part.SUBJECT, "Yo\u034fur page", "one that nobody sees"),
        (Part.SUBJECT, "Yo\u200cur page", "one that nobody sees"),
        (Part.TEXT, "{link} yo\u200cur", "one that nobody sees"),
        (Part.SMS, f"{GOOD_SMS} \ufeff", "one that nobody sees"),
        *[
            (Part.TEXT, glued, "{link} must stand by itself")
            for glued in (
                "{link}and call",
                "See:{link}",
                "({name}){link}",
                "{link}{number}",
                "Here: {link}.",
                "<{link}>",
                "{link}\u200b",
                "{link} or {link}, as you like",
            )
        ],
        (Part.SMS, "{practice}: {link}{number}", "{link} must stand by itself"),
        (Part.SMS, GOOD_SMS + "x" * 260, "It takes 3 parts on the telephone, and 2 are the most. Shorten it."),
        (Part.SMS, GOOD_SMS + "ш" * 160, "do without “ш”: then each part holds more than twice as much."),
    ],
)
def test_what_is_refused(part: Part, text: str, said: str) -> None:
    assert said in " ".join(sentences(part, text))


@pytest.mark.parametrize(
    ("language", "text", "said"),
    [
        ("de", "Ihre Zahnaufhellung", "take out “Zahnaufhellung”"),
        ("es", "Su blanqueamiento", "take out “blanqueamiento”"),
        ("es", "Una hora sensible", "take out “sensible”"),
        ("ar", "موعد تبييض أسنانك", "take out “تبييض”, “أسنانك”"),
        # Not yet translated.
        ("de", "Ihr whitening", "take out “whitening”"),
    ],
)
def test_each_text_by_the_list_of_its_language(language: str, text: str, said: str) -> None:
    assert said in " ".join(sentences(Part.SUBJECT, text, language=language))


@pytest.mark.parametrize("joiner", ["\u200c", "\u200d"])
def test_a_script_may_need_a_joiner_inside_a_word(joiner: str) -> None:
    inside = f"{{link}} م{joiner}ي"
    assert sentences(Part.TEXT, inside, language="ar") == []
    for language, part, text in (
        ("en", Part.TEXT, inside),
        ("ar", Part.TEXT, f"{{link}} {joiner}م"),
        ("ar", Part.TEXT, f"{joiner}م {{link}}"),
        ("ar", Part.SUBJECT, f"م{joiner}ي"),
    ):
        assert "one that nobody sees" in " ".join(sentences(part, text, language=language))


def test_everything_at_once() -> None:
    assert len(sentences(Part.SMS, "Your gel, {name} {")) == 6


def test_the_longest_of_all_sites_counts() -> None:
    long = VALUES | {"practice": "F" * 300}
    faults = faults_of(OWN, Part.SMS, GOOD_SMS, language="en", examples=[VALUES, long, VALUES])
    assert [one.part for one in faults] == [Part.SMS]


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
        [
            "{name}",
            "{practice}",
            "{number}",
            "{link}",
            " {link} ",
            "{date}",
            "{",
            "}",
            "{}",
            "{{",
            "{na\nme}",
            "{ name}",
        ]
    ),
    st.text(max_size=12),
)
_TEXTS = st.lists(_PIECES, max_size=12).map("".join)
# A patient may be called anything but this once, so that a brace that is left can only be the text's own.
_NAMES = st.text(st.characters(exclude_characters="{}"), max_size=20)


@given(text=_TEXTS, part=st.sampled_from(Part), name=_NAMES)
def test_whatever_is_kept_can_be_filled_in(text: str, part: Part, name: str) -> None:
    if sentences(part, text):
        return
    values = VALUES | {"name": name}
    said = filled_text(text, values) if part is Part.TEXT else one_line(fill(text, values))
    assert not set("{}") & set(said)
    if part is not Part.TEXT:
        assert len(said.splitlines()) <= 1
        assert any(letter.isprintable() and not letter.isspace() for letter in said)
    else:
        # The address is a word of its own, so that a mail program opens that and nothing else.
        assert VALUES["link"] in said.split()
    if part is Part.SMS:
        assert not length_of(said).is_too_long
        assert all(VALUES[name] in said for name in ("practice", "number", "link"))


@given(text=_TEXTS)
def test_the_check_itself_never_fails(text: str) -> None:
    for part in Part:
        assert all(sentences(part, text))
