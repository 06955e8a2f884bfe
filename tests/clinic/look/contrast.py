"""Contrast as WCAG 2.2 defines it: "relative luminance" and "contrast ratio" in its glossary.

https://www.w3.org/TR/WCAG22/#dfn-relative-luminance, https://www.w3.org/TR/WCAG22/#dfn-contrast-ratio
"""

TEXT = 4.5  # success criterion 1.4.3
PARTS = 3.0  # success criterion 1.4.11

Colour = tuple[int, int, int]


def from_hex(code: str) -> Colour:
    assert len(code) == 7, code
    return int(code[1:3], 16), int(code[3:5], 16), int(code[5:7], 16)


def luminance(colour: Colour) -> float:
    red, green, blue = (_linear(part / 255) for part in colour)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def ratio(one: Colour, other: Colour) -> float:
    lighter, darker = sorted((luminance(one), luminance(other)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


def behind_amber(colour: Colour) -> Colour:
    """Filter eyewear for blue curing light lets no blue through."""
    red, green, _ = colour
    return red, green, 0


def _linear(part: float) -> float:
    return part / 12.92 if part <= 0.04045 else float(((part + 0.055) / 1.055) ** 2.4)
