"""What people type by mistake: a sentence beside the field, what was typed kept, nothing written."""

import pytest
from django.urls import reverse

from clinic.accounts.templatetags.shell import problems
from clinic.patients.models import Patient
from tests.cast import Cast, sign_in
from tests.clinic.patients.people import TYPED
from tests.support import nothing_written

FUTURE = "That date of birth lies in the future. Check the year."
NOT_HERE = "That is not a telephone number of this country."
ONLY_THE_NUMBER = "Only the number can be kept here."
CANNOT_BE_KEPT = "There is a character in it that cannot be kept."

REFUSED = [
    ("name", "", "Ask for the name."),
    ("name", "   ", "Ask for the name."),
    ("name", "😀😀", "Write the name in letters"),
    ("name", "x" * 300, "Please shorten the name to 200 characters; it has 300."),
    ("name", "Ann\x00a", CANNOT_BE_KEPT),
    ("name", "Ann\x07", CANNOT_BE_KEPT),
    ("name", "Ann \x1b[31mBell", CANNOT_BE_KEPT),
    ("name", "Ann\uffff", CANNOT_BE_KEPT),
    ("name", "Ann\ufffda", CANNOT_BE_KEPT),
    ("name", "\u3164", "Write the name in letters"),  # a letter by its category that shows nothing
    ("name", "\u200b\u200b", "Write the name in letters"),
    ("preferred_name", "x" * 300, "This is too long: 100 characters fit"),
    ("birth_on", "", "Ask for the date of birth."),
    ("birth_on", "yesterday", "This is not a date."),
    ("birth_on", "31 2 1990", "This is not a date."),
    ("birth_on", "29 2 1990", "This is not a date."),
    ("birth_on", "0 0 0000", "This is not a date."),
    ("birth_on", "3 12 88", "Type the year with four digits"),
    ("birth_on", "5 17 1990", "The month comes second"),
    ("birth_on", "1 1 2999", FUTURE),
    ("birth_on", "31 12 1899", "This date is before"),
    ("birth_on", "17 5 1990\x00", "This is not a date."),
    # A Warsaw number said as in Warsaw, a Berlin one as in Berlin: neither is a number of this country.
    ("phone", "22 123 45 67", NOT_HERE),
    ("phone", "030 901820", NOT_HERE),
    ("phone", "+49 1", NOT_HERE),
    ("phone", "ask her sister", NOT_HERE),
    # Beside the ranges that are kept free for stories, and those ranges as said in another country.
    ("phone", "07700 901123", NOT_HERE),
    ("phone", "07700 90012", NOT_HERE),
    ("phone", "07700 9001234", NOT_HERE),
    ("phone", "01632 961123", NOT_HERE),
    ("phone", "0115 497 0123", NOT_HERE),
    ("phone", "+34 7700 900123", NOT_HERE),
    ("phone", "+1 222 555 0123", NOT_HERE),
    ("phone", "1" * 300, NOT_HERE),
    ("phone", "020 7946\x00 0123", CANNOT_BE_KEPT),
    ("phone", "020 7946 0123 ext 5", ONLY_THE_NUMBER),
    ("phone", "07700 900123 x5", ONLY_THE_NUMBER),
    ("phone", "0800 FLOWERS", ONLY_THE_NUMBER),
    ("email", "luki", "That is not an e-mail address."),
    ("email", "luki@", "That is not an e-mail address."),
    ("email", "", "They want e-mail: ask for the address"),
    ("email", f"{'x' * 300}@example.org", "This is too long: 254 characters fit"),
    ("address", "x" * 401, "This is too long: 400 characters fit"),
    ("address", "2 Mill\x00 Lane", CANNOT_BE_KEPT),
    ("address", "2 Mill\x0e Lane", CANNOT_BE_KEPT),
    ("allergies", "latex\x7f", CANNOT_BE_KEPT),
    ("language", "xx", "Choose one from the list"),
    ("channel", "pigeon", "Choose one from the list"),
    ("timezone", "Europe/Fernbrook", "“Europe/Fernbrook” is not a time zone."),
    ("allergies", "x" * 301, "This is too long: 300 characters fit"),
    ("seen_version", "one", "Type a whole number"),
]


@pytest.mark.parametrize(("field", "typed", "sentence"), REFUSED)
def test_refused(cast: Cast, field: str, typed: str, sentence: str) -> None:
    client = sign_in(cast.desk)
    with nothing_written():
        page = client.post(reverse("patient_new"), TYPED | {field: typed})
    assert page.status_code == 422
    form = page.context["form"]
    assert any(each.startswith(sentence) for each in problems(form[field])), problems(form[field])
    assert form[field].value() == typed
    assert form["own_dentist"].value() == TYPED["own_dentist"]


@pytest.mark.parametrize(
    ("changes", "field", "sentence"),
    [
        ({"channel": "text", "phone": ""}, "phone", "Ask for a telephone number"),
        ({"channel": "phone", "phone": ""}, "phone", "Ask for a telephone number"),
        ({"channel": "letter", "address": ""}, "address", "They want letters"),
        ({"needs_interpreter": "on"}, "interpreter_language", "Say which language"),
    ],
)
def test_what_belongs_together(cast: Cast, changes: dict[str, str], field: str, sentence: str) -> None:
    client = sign_in(cast.desk)
    with nothing_written():
        page = client.post(reverse("patient_new"), TYPED | changes)
    assert page.status_code == 422
    assert problems(page.context["form"][field])[0].startswith(sentence)


@pytest.mark.parametrize(
    ("field", "typed", "kept"),
    [
        ("name", "Siobhán O’Brien-D'Arcy", "Siobhán O’Brien-D'Arcy"),
        ("name", "محمد بن عبد الله", "محمد بن عبد الله"),
        ("name", "王小明", "王小明"),
        ("name", "Mia 😀", "Mia 😀"),
        ("name", '<b>Ann</b> & "Co" {{ x }}', '<b>Ann</b> & "Co" {{ x }}'),
        ("name", "x" * 200, "x" * 200),
        ("name", "ﷺ" * 200, "ﷺ" * 200),  # each folds into many letters
        ("name", "A\u202eB", "A\u202eB"),  # turns the direction of writing
        ("name", "Ann\r\nBcc: x@example.org", "Ann Bcc: x@example.org"),
        ("name", "Ann\tBell\u2028", "Ann Bell"),
        ("name", "100 % {Ann} %(name)s", "100 % {Ann} %(name)s"),
        ("allergies", "latex\n  nickel", "latex nickel"),
        # As many lines as a browser counts letters: it counts one for the end of a line, and sends two.
        ("address", "a\r\n" * 199 + "ab", "a\n" * 199 + "ab"),
        ("allergies", "😀" * 300, "😀" * 300),
        ("phone", "+49 30 901820", "+4930901820"),
        ("phone", "(020) 7946-0123", "+442079460123"),
        # Kept free for stories: by Ofcom (mobile, Nottingham, no area), and 555-0100 to 0199 in North America.
        ("phone", "07700 900123", "+447700900123"),
        ("phone", "+44 (0)7700 900999", "+447700900999"),
        ("phone", "0115 496 0123", "+441154960123"),
        ("phone", "(01632) 960-001", "+441632960001"),
        ("phone", "+1 212 555 0123", "+12125550123"),
    ],
)
def test_kept_as_it_was_typed(cast: Cast, field: str, typed: str, kept: str) -> None:
    client = sign_in(cast.desk)
    answer = client.post(reverse("patient_new"), TYPED | {field: typed}, follow=True)
    assert answer.status_code == 200
    patient = Patient.objects.get()
    value = getattr(patient, field)
    assert (value.as_e164 if field == "phone" else value) == kept
    # Shown as text, never as markup.
    assert "<b>Ann" not in answer.content.decode()


def test_a_form_without_anything(cast: Cast) -> None:
    client = sign_in(cast.desk)
    with nothing_written():
        page = client.post(reverse("patient_new"), {})
    assert page.status_code == 422
    assert set(page.context["form"].errors) == {"name", "birth_on", "language", "channel"}


def test_sent_twice_is_registered_once(cast: Cast) -> None:
    """Back, and sent again: the first one is shown as a likely duplicate."""
    client = sign_in(cast.desk)
    assert client.post(reverse("patient_new"), TYPED).status_code == 302
    with nothing_written():
        again = client.post(reverse("patient_new"), TYPED)
    assert again.status_code == 422
    assert "This may be somebody who is in the register already:" in again.content.decode()
