"""The type that is cut at install holds every letter and feature that pages and sheets need."""

import re
from io import BytesIO
from pathlib import Path

import pytest
from django.core.management import call_command
from fontTools.ttLib import TTFont

from clinic.documents import bundled, fonts

NAMES = (
    "Łucja Nowak-O’Brien Aleš Dvořák Ștefan Țăruș İbrahim Çelik Đoàn Nguyễn Þóra Guðmundsdóttir Ñuñez Strauß "
    "Ľubomír Œuvre Ģirts Ķēniņš Ðuro Æbelø ŵŷ Ħ ẞ Ελένη Παπαδοπούλου Їжакевич Ђорђе Ќосев Әсел"
)
SIGNS = "0123456789 .,:;!?·–—…“”‘’„«»€£$%°±µ×÷−½²³₂&@#()[]/+*=<>_|~^'\"§©®™№†•′″ʼ"
ARABIC = "سلمى الخطيب محمّد أبو إياد ؤ ئ ة لا گ چ پ ژ ی ک ٠١٢٣ ۰۱۲ ، ؛ ؟ ـ"


@pytest.fixture(scope="module", autouse=True)
def _built() -> None:
    fonts.build()


def letters(name: str) -> set[int]:
    return set(opened(name).getBestCmap())


def opened(name: str) -> TTFont:
    """Read from memory, so that no file stays open."""
    return TTFont(BytesIO((bundled.FONTS_DIR / name).read_bytes()))


@pytest.mark.parametrize("weight", [400, 600])
def test_every_needed_letter_is_there(weight: int) -> None:
    latin = letters(f"casebook-latin-{weight}.woff2") | letters(f"casebook-east-{weight}.woff2")
    sheets = letters(f"casebook-sans-{weight}.ttf")
    for needed in NAMES + SIGNS:
        assert ord(needed) in latin, needed
        assert ord(needed) in sheets, needed
    for flavour in ("woff2", "ttf"):
        arabic = letters(f"casebook-arabic-{weight}.{flavour}")
        assert {each for each in ARABIC if ord(each) not in arabic} == set()


@pytest.mark.parametrize("cut", fonts.CUTS, ids=lambda cut: cut.name)
def test_features_and_fixed_axes(cut: fonts.Cut) -> None:
    font = opened(cut.name)
    features = {record.FeatureTag for record in font["GSUB"].table.FeatureList.FeatureRecord}
    assert "fvar" not in font
    assert font["OS/2"].usWeightClass == cut.weight
    assert (font.flavor == "woff2") == cut.name.endswith(".woff2")
    if cut.source is fonts.ARABIC_SANS:
        assert {"init", "medi", "fina", "rlig"} <= features
        assert "mark" in {record.FeatureTag for record in font["GPOS"].table.FeatureList.FeatureRecord}
    elif cut.ranges != fonts.GREEK_AND_CYRILLIC:
        assert "tnum" in features or len(_digit_widths(font)) == 1


def _digit_widths(font: TTFont) -> set[int]:
    cmap = font.getBestCmap()
    return {font["hmtx"][cmap[ord(digit)]][0] for digit in "0123456789"}


@pytest.mark.parametrize("name", ["casebook-latin-400.woff2", "casebook-sans-400.ttf", "casebook-sans-600.ttf"])
def test_digits_have_one_width(name: str) -> None:
    assert len(_digit_widths(opened(name))) == 1


def test_each_sheet_font_has_a_family_name_of_its_own() -> None:
    names = {}
    for file, family in bundled.FONTS.items():
        table = opened(file)["name"]
        names[file] = {str(table.getName(number, 3, 1, 0x409)) for number in (1, 4)}
        assert names[file] == {family}
        assert table.getName(16, 3, 1, 0x409) is None
    assert len({frozenset(each) for each in names.values()}) == len(bundled.FONTS)


def test_a_second_build_touches_nothing() -> None:
    before = {path.name: path.stat().st_mtime_ns for path in bundled.FONTS_DIR.iterdir()}
    assert fonts.build() is False
    assert {path.name: path.stat().st_mtime_ns for path in bundled.FONTS_DIR.iterdir()} == before


def test_the_command_says_that_there_is_nothing_to_do(capsys: pytest.CaptureFixture[str]) -> None:
    call_command("build_fonts")
    assert capsys.readouterr().out == "Fonts are up to date.\n"


def test_the_licence_lies_beside_the_fonts() -> None:
    for name in ("noto-sans-licence.txt", "noto-sans-arabic-licence.txt"):
        assert "SIL Open Font License, Version 1.1" in (bundled.FONTS_DIR / name).read_text(encoding="utf-8")


def test_the_style_sheet_names_the_files_that_are_made() -> None:
    sheet = Path("static/css/fonts.css").read_text(encoding="utf-8")
    assert set(re.findall(r"\.\./fonts/([\w.-]+)", sheet)) == {cut.name for cut in fonts.WEB}


def test_each_letter_of_a_web_font_lies_in_the_range_it_is_fetched_for() -> None:
    sheet = Path("static/css/fonts.css").read_text(encoding="utf-8")
    for face in re.findall(r"@font-face \{(.*?)\}", sheet, flags=re.DOTALL):
        name = re.search(r"fonts/([\w.-]+)", face)
        spans = re.findall(r"U\+([0-9A-F]+)(?:-([0-9A-F]+))?", face)
        covered = {n for first, last in spans for n in range(int(first, 16), int(last or first, 16) + 1)}
        assert name is not None
        # Only the space is in each of them.
        assert letters(name[1]) - covered <= {0x20}, name[1]


COMMENTS = re.compile(r"{#.*?#}|{% comment %}.*?{% endcomment %}", re.DOTALL)


def test_templates_use_no_letter_that_the_font_lacks() -> None:
    known = letters("casebook-sans-400.ttf") | letters("casebook-arabic-400.ttf") | {0x0A}
    for path in Path("templates").rglob("*.*"):
        text = COMMENTS.sub("", path.read_text(encoding="utf-8"))
        assert {each for each in text if ord(each) not in known} == set(), path
