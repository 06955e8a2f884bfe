"""Shade guides as data: the order of the tabs, lightest first, and an approximate colour for the screen."""

import csv
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType

from whitening.shade.colour import Lab
from whitening.shade.srgb import lab_to_srgb

DATA = Path(__file__).parent / "data"


class UnknownGuide(ValueError):
    """No guide of that code is known."""


class UnknownTab(ValueError):
    """The guide has no tab of that code."""


class GuideRefused(ValueError):
    """A guide's file does not hold what a guide needs."""


@dataclass(frozen=True, slots=True)
class Tab:
    code: str
    rank: int
    lab: Lab
    hex: str
    order_source: str
    order_quality: str
    colour_source: str
    colour_quality: str


@dataclass(frozen=True, slots=True)
class Guide:
    """Ranks of one guide count steps of that guide only: they are never compared with another guide's."""

    code: str
    version: str
    tabs: tuple[Tab, ...]

    def tab(self, code: str) -> Tab:
        for tab in self.tabs:
            if tab.code == code:
                return tab
        raise UnknownTab(code)

    def rank(self, code: str) -> int:
        return self.tab(code).rank


def read_guide(*, code: str, version: str, lines: Iterable[str]) -> Guide:
    """Lines of a CSV with the columns of data/guide_16.csv; lines that begin with # are remarks."""
    rows = csv.DictReader(line for line in lines if not line.startswith("#"))
    tabs = tuple(_tab(row) for row in rows)
    # A gap or a repeated rank would count steps that no tab stands for.
    if [tab.rank for tab in tabs] != list(range(1, len(tabs) + 1)):
        raise GuideRefused(f"{code}: the ranks must run from 1 without a gap")
    if len({tab.code for tab in tabs}) != len(tabs):
        raise GuideRefused(f"{code}: a tab stands twice")
    return Guide(code=code, version=version, tabs=tabs)


def _tab(row: Mapping[str, str]) -> Tab:
    if not row["order_source"] or not row["colour_source"]:
        raise GuideRefused(f"{row['tab']}: the order and the colour each need a source")
    lab = Lab(float(row["l_d65"]), float(row["a_d65"]), float(row["b_d65"]))
    return Tab(
        code=row["tab"],
        rank=int(row["rank"]),
        lab=lab,
        hex=lab_to_srgb(lab).hex,
        order_source=row["order_source"],
        order_quality=row["order_quality"],
        colour_source=row["colour_source"],
        colour_quality=row["colour_quality"],
    )


CLASSICAL_16 = read_guide(
    code="classical-16", version="1", lines=(DATA / "guide_16.csv").read_text(encoding="utf-8").splitlines()
)
# A reading keeps the code of its guide; a practice's own guide joins here under a code of its own.
GUIDES: Mapping[str, Guide] = MappingProxyType({CLASSICAL_16.code: CLASSICAL_16})
# The guide that readings are taken on, and its tabs, lightest first.
GUIDE = CLASSICAL_16.code
TABS = CLASSICAL_16.tabs


def guide(code: str) -> Guide:
    try:
        return GUIDES[code]
    except KeyError:
        raise UnknownGuide(code) from None


def rank(tab: str) -> int:
    """Of the classical guide: 1 is the lightest tab, 16 the darkest."""
    return CLASSICAL_16.rank(tab)
