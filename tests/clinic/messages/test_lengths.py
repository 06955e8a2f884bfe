"""How many parts a text takes: by the published alphabet, at the borders of the parts."""

import pytest

from clinic.messages.wordings.lengths import SEVEN_BITS, SIXTEEN_BITS, Alphabet, length_of

# 3GPP TS 23.038, 6.2.1: the whole default alphabet and its extension, but for the escape itself.
BASIC = (
    "@£$¥èéùìòÇ\nØø\rÅåΔ_ΦΓΛΩΠΨΣΘΞÆæßÉ !\"#¤%&'()*+,-./0123456789:;<=>?¡ABCDEFGHIJKLMNOPQRSTUVWXYZÄÖÑÜ§"
    "¿abcdefghijklmnopqrstuvwxyzäöñüà"
)
EXTENDED = "\f^{}\\[~]|€"


@pytest.mark.parametrize(
    ("text", "parts", "used", "alphabet"),
    [
        ("", 0, 0, SEVEN_BITS),
        ("a" * 160, 1, 160, SEVEN_BITS),
        ("a" * 161, 2, 161, SEVEN_BITS),
        ("a" * 306, 2, 306, SEVEN_BITS),
        ("a" * 307, 3, 307, SEVEN_BITS),
        ("a" * 158 + "€", 1, 160, SEVEN_BITS),
        ("a" * 159 + "€", 2, 161, SEVEN_BITS),
        # The sign of two units does not fit into the one that is left of the first part, nor what it pushes out.
        ("a" * 152 + "€" + "a" * 151, 2, 305, SEVEN_BITS),
        ("a" * 152 + "€" + "a" * 152, 3, 306, SEVEN_BITS),
        ("ш" * 70, 1, 70, SIXTEEN_BITS),
        ("ш" * 71, 2, 71, SIXTEEN_BITS),
        ("ш" * 134, 2, 134, SIXTEEN_BITS),
        ("ш" * 135, 3, 135, SIXTEEN_BITS),
        # One letter alone makes the whole text 16-bit; there the sign of the euro is one unit again.
        ("ł" + "€" * 69, 1, 70, SIXTEEN_BITS),
        ("a" * 69 + "\N{SMILING FACE WITH SUNGLASSES}", 2, 71, SIXTEEN_BITS),
        ("a" * 66 + "\N{SMILING FACE WITH SUNGLASSES}" * 2 + "a" * 65, 3, 135, SIXTEEN_BITS),
    ],
)
def test_parts(text: str, parts: int, used: int, alphabet: Alphabet) -> None:
    found = length_of(text)
    assert (found.parts, found.used, found.alphabet) == (parts, used, alphabet)


def test_every_letter_of_the_alphabet() -> None:
    assert len(BASIC) == 127
    assert (length_of(BASIC).used, length_of(BASIC).beyond) == (127, "")
    assert (length_of(EXTENDED).used, length_of(EXTENDED).beyond) == (20, "")


@pytest.mark.parametrize("text", ["ç", "`", "“", "ş", "Ł", "à la carté ë"])
def test_what_is_beyond_it_is_named(text: str) -> None:
    found = length_of(f"{text}{text}")
    assert found.alphabet is SIXTEEN_BITS
    assert found.beyond == {"à la carté ë": "ë"}.get(text, text)


@pytest.mark.parametrize(
    ("text", "is_too_long", "room"),
    [
        ("a" * 160, False, 160),
        ("a" * 306, False, 306),
        ("a" * 307, True, 459),
        ("ш" * 201, False, 201),
        ("ш" * 202, True, 268),
    ],
)
def test_how_much_we_send(text: str, is_too_long: bool, room: int) -> None:
    assert (length_of(text).is_too_long, length_of(text).room) == (is_too_long, room)
