"""Our type, cut at install from the font packages: WOFF2 files for the browser, TTF files for documents.

The packages carry variable fonts of many scripts, far too big to send or to embed. Each file here is
one weight of one group of scripts. Every TTF has the family name that clinic.documents.bundled gives
it: two files that share a family name would both be drawn as the first one.
"""

import hashlib
import json
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from io import BytesIO
from pathlib import Path

from fontTools.subset import Options, Subsetter
from fontTools.ttLib import TTFont
from fontTools.varLib import instancer

from clinic.documents import bundled

# Raised whenever the outcome of this module changes, so that files of an older recipe are made again.
RECIPE = 3
STAMP = "built.json"
# The class of marks in a font's own table (OpenType, GDEF).
_MARK = 3
Ranges = tuple[tuple[int, int], ...]

LATIN: Ranges = (
    (0x20, 0x7E),
    (0xA0, 0x24F),  # every European name in Latin letters
    (0x259, 0x259),
    (0x2B9, 0x2DD),
    (0x300, 0x331),
    (0x1E00, 0x1EFF),  # and Vietnamese
    (0x2000, 0x206F),
    (0x2070, 0x209F),
    (0x20A0, 0x20C0),
    (0x2100, 0x215F),
    (0x2190, 0x22FF),
    (0x25A0, 0x25FF),
    (0x2713, 0x2717),
    (0xFB00, 0xFB04),
    (0xFFFD, 0xFFFD),
)
GREEK_AND_CYRILLIC: Ranges = ((0x370, 0x52F), (0x1F00, 0x1FFF))
ARABIC: Ranges = (
    (0x20, 0x20),
    (0x600, 0x6FF),
    (0x750, 0x77F),
    (0x8A0, 0x8FF),
    (0x200C, 0x200F),
    (0x25CC, 0x25CC),
    (0xFB50, 0xFDFF),
    (0xFE70, 0xFEFC),
)

# Kerning, accents and ligatures; digits of equal width (asked for by CSS); the joining of Arabic letters.
FEATURES = [
    *("kern", "mark", "mkmk", "ccmp", "locl", "liga", "rlig", "calt"),
    *("tnum", "lnum", "sups", "subs", "frac"),
    *("init", "medi", "fina", "isol", "rtlm", "dist"),
]


@dataclass(frozen=True, kw_only=True)
class Source:
    """A variable font of an installed package, and the letters of it that we use anywhere."""

    package: str
    file: str
    ranges: Ranges

    @property
    def path(self) -> Path:
        return Path(str(files(self.package))) / "files" / self.file

    @property
    def licence(self) -> Path:
        return Path(str(files(self.package))) / "LICENSE"


SANS = Source(package="fontpkg_noto_sans", file="NotoSans[wdth,wght].ttf", ranges=LATIN + GREEK_AND_CYRILLIC)
ARABIC_SANS = Source(package="fontpkg_noto_sans_arabic", file="NotoSansArabic[wdth,wght].ttf", ranges=ARABIC)


@dataclass(frozen=True, kw_only=True)
class Cut:
    """One file to make: which letters of which font, at which weight, under which name."""

    source: Source
    ranges: Ranges
    name: str
    family: str
    weight: int


# Three files a weight, so that a page in English never fetches Greek, Cyrillic or Arabic letters.
WEB = [
    Cut(source=source, ranges=ranges, name=f"casebook-{part}-{weight}.woff2", family=family, weight=weight)
    for weight in (400, 600)
    for source, ranges, part, family in (
        (SANS, LATIN, "latin", "Casebook Sans"),
        (SANS, GREEK_AND_CYRILLIC, "east", "Casebook Sans"),
        (ARABIC_SANS, ARABIC, "arabic", "Casebook Arabic"),
    )
]


def _sheet_cut(name: str, family: str) -> Cut:
    """`casebook-arabic-600.ttf`: the font and the weight stand in the name of the file."""
    _, part, weight = name.removesuffix(".ttf").split("-")
    source = ARABIC_SANS if part == "arabic" else SANS
    return Cut(source=source, ranges=source.ranges, name=name, family=family, weight=int(weight))


CUTS = WEB + [_sheet_cut(name, family) for name, family in bundled.FONTS.items()]


def build(folder: Path = bundled.FONTS_DIR) -> bool:
    """Make the files when they are missing or out of date; True when they were made."""
    wanted = _fingerprint()
    if _is_current(folder, wanted):
        return False
    folder.mkdir(parents=True, exist_ok=True)
    for cut in CUTS:
        _write(cut, folder / cut.name)
    for source in (SANS, ARABIC_SANS):
        (folder / _licence_name(source)).write_bytes(source.licence.read_bytes())
    # Last, so that a build that was cut short is done again.
    (folder / STAMP).write_text(json.dumps({"from": wanted}), encoding="utf-8")
    _letters_of.cache_clear()
    _weight_of.cache_clear()
    return True


def _is_current(folder: Path, wanted: str) -> bool:
    stamp = folder / STAMP
    if not stamp.is_file() or json.loads(stamp.read_text(encoding="utf-8")) != {"from": wanted}:
        return False
    names = [cut.name for cut in CUTS] + [_licence_name(source) for source in (SANS, ARABIC_SANS)]
    return all((folder / name).is_file() for name in names)


def _fingerprint() -> str:
    """Changes with the packages' files, with the recipe, and with the list of what is to be made."""
    digest = hashlib.sha256(f"{RECIPE} {[(cut.name, cut.family, cut.weight) for cut in CUTS]}".encode())
    for source in (SANS, ARABIC_SANS):
        digest.update(source.path.read_bytes())
    return digest.hexdigest()


def _licence_name(source: Source) -> str:
    return f"{source.package.removeprefix('fontpkg_').replace('_', '-')}-licence.txt"


def _write(cut: Cut, path: Path) -> None:
    font = TTFont(BytesIO(_weight_of(cut.source, cut.weight)), recalcTimestamp=False)
    if cut.ranges != cut.source.ranges:
        _keep(font, cut.ranges)
    _rename(font, family=cut.family)
    if path.suffix == ".ttf":
        _take_no_room(font)
    font.flavor = "woff2" if path.suffix == ".woff2" else None
    font.save(path)


def _take_no_room(font: TTFont) -> None:
    """Marks and dots advance by nothing, as every shaper has them anyway; then a finished sheet tells them apart."""
    classes = font["GDEF"].table.GlyphClassDef.classDefs
    metrics = font["hmtx"].metrics
    for glyph in [name for name, kind in classes.items() if kind == _MARK and name in metrics]:
        metrics[glyph] = (0, metrics[glyph][1])


# Kept while one build runs: a weight of a font is worked out once, for its page and for its sheet.
@cache
def _weight_of(source: Source, weight: int) -> bytes:
    font = TTFont(BytesIO(_letters_of(source)), recalcTimestamp=False)
    return _bytes(instancer.instantiateVariableFont(font, {"wght": weight, "wdth": 100}, inplace=True))


@cache
def _letters_of(source: Source) -> bytes:
    """Letters first, weight second: fixing the axes of all 4,500 glyphs would take a minute."""
    font = TTFont(source.path, recalcTimestamp=False)
    _keep(font, source.ranges)
    return _bytes(font)


def _keep(font: TTFont, ranges: Ranges) -> None:
    options = Options()
    options.layout_features = FEATURES
    options.name_IDs = ["*"]
    options.notdef_outline = True
    options.hinting = False
    subsetter = Subsetter(options)
    subsetter.populate(unicodes=[letter for first, last in ranges for letter in range(first, last + 1)])
    subsetter.subset(font)


def _bytes(font: TTFont) -> bytes:
    buffer = BytesIO()
    font.save(buffer)
    return buffer.getvalue()


def _rename(font: TTFont, *, family: str) -> None:
    names = font["name"]
    for old in (3, 16, 17, 21, 22, 25):
        names.removeNames(nameID=old)
    postscript = family.replace(" ", "")
    for number, text in ((1, family), (2, "Regular"), (3, postscript), (4, family), (6, postscript)):
        names.removeNames(nameID=number)
        names.setName(text, number, 3, 1, 0x409)
