"""Text keeps 4.5:1 and parts of controls 3:1: in light, in dark, and behind the amber filter of light eyewear."""

import re
from pathlib import Path

import pytest

from tests.clinic.look.contrast import PARTS, TEXT, Colour, behind_amber, from_hex, ratio

SHEET = Path("static/css/tokens.css").read_text(encoding="utf-8")
GROUNDS = ("paper", "surface", "spine")
MEANINGS = ("go", "wait", "stop", "info")


def colours(opening: str) -> dict[str, str]:
    """The colours of the first block that opens so."""
    start = SHEET.index(opening) + len(opening)
    block = SHEET[start : SHEET.index("}", start)]
    return dict(re.findall(r"--([\w-]+):\s*(#[0-9a-f]+)", block))


LIGHT = colours(":root {")
DARK = colours(':root[data-theme="dark"] {')
THEMES = {"light": LIGHT, "dark": LIGHT | DARK}
NEUTRAL = colours("by night the same. */\n:root {")

TEXT_PAIRS = [
    *[(ink, ground) for ink in ("ink", "muted", "accent", "accent-strong") for ground in GROUNDS],
    *[(meaning, ground) for meaning in MEANINGS for ground in GROUNDS],
    *[(meaning, f"{meaning}-wash") for meaning in MEANINGS],
    *[("ink", f"{meaning}-wash") for meaning in (*MEANINGS, "accent")],
    ("on-accent", "accent"),
    ("on-accent", "accent-strong"),
]
PART_PAIRS = [
    *[(part, ground) for part in ("control", "accent", "stop", "focus-outer") for ground in GROUNDS],
    ("control", "accent-wash"),
    ("accent", "accent-wash"),
]


@pytest.mark.parametrize("seen", ["plain", "amber"])
@pytest.mark.parametrize("theme", THEMES)
@pytest.mark.parametrize(("ink", "ground"), TEXT_PAIRS)
def test_text(theme: str, ink: str, ground: str, seen: str) -> None:
    assert ratio(*_pair(THEMES[theme], ink, ground, seen)) >= TEXT


@pytest.mark.parametrize("seen", ["plain", "amber"])
@pytest.mark.parametrize("theme", THEMES)
@pytest.mark.parametrize(("part", "ground"), PART_PAIRS)
def test_parts_of_controls(theme: str, part: str, ground: str, seen: str) -> None:
    assert ratio(*_pair(THEMES[theme], part, ground, seen)) >= PARTS


@pytest.mark.parametrize("theme", THEMES)
@pytest.mark.parametrize("ground", ["paper", "surface", "accent", "stop-wash", "neutral"])
def test_one_of_the_two_rings_shows_on_every_ground(theme: str, ground: str) -> None:
    tokens = THEMES[theme] | NEUTRAL
    below = from_hex(tokens[ground])
    assert max(ratio(from_hex(tokens[ring]), below) for ring in ("focus-outer", "focus-inner")) >= PARTS


def test_the_ladder_reads_on_its_grey() -> None:
    grey, ink = from_hex(NEUTRAL["neutral"]), from_hex(NEUTRAL["neutral-ink"])
    assert ratio(ink, grey) >= TEXT
    assert ratio(behind_amber(ink), behind_amber(grey)) >= TEXT
    # Neutral, and of the lightness that shades are judged on.
    assert len(set(grey)) == 1
    assert NEUTRAL["neutral"] == "#9e9e9e"


def test_both_ways_to_dark_give_the_same_colours() -> None:
    assert colours(':root:not([data-theme="light"]) {') == DARK
    missing = set(LIGHT) - set(DARK)
    assert missing == set()


def test_nothing_else_names_a_colour() -> None:
    for sheet in Path("static/css").glob("*.css"):
        if sheet.name != "tokens.css":
            bare = re.sub(r"/\*.*?\*/", "", sheet.read_text(encoding="utf-8"), flags=re.DOTALL)
            assert re.findall(r"#[0-9a-fA-F]{3,8}\b(?=[^{}]*;)|rgb|hsl", bare) == [], sheet.name


def test_every_token_that_is_used_is_defined() -> None:
    defined = set(re.findall(r"(--[\w-]+):", SHEET))
    for sheet in Path("static/css").glob("*.css"):
        text = sheet.read_text(encoding="utf-8")
        # A number that a sheet counts with alone stands in that sheet.
        own = set(re.findall(r"(--[\w-]+):", text))
        used = set(re.findall(r"var\((--[\w-]+)", text))
        assert used - defined - own == set(), sheet.name


def _pair(tokens: dict[str, str], one: str, other: str, seen: str) -> tuple[Colour, Colour]:
    pair = from_hex(tokens[one]), from_hex(tokens[other])
    return (behind_amber(pair[0]), behind_amber(pair[1])) if seen == "amber" else pair


def test_the_formula_itself() -> None:
    """Black on white is 21:1 by definition; #767676 on white is the well-known edge of 4.5:1."""
    assert ratio((0, 0, 0), (255, 255, 255)) == pytest.approx(21)
    assert ratio(from_hex("#767676"), (255, 255, 255)) == pytest.approx(4.54, abs=0.005)
