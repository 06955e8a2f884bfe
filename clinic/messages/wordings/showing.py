"""What Set-up shows of the messages' words: which are the practice's own, how they look, what they said before."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.conf import settings
from django.utils import timezone
from django.utils.translation import get_language_info

from clinic.accounts.languages import name_of, speaking
from clinic.accounts.models import Site
from clinic.accounts.pieces import BREAK, Piece, pieces
from clinic.messages import kinds, own
from clinic.messages.foot import foot
from clinic.messages.kinds import Kind
from clinic.messages.letters import on_paper, one_line
from clinic.messages.links import example_address
from clinic.messages.models import Wording
from clinic.messages.wordings.current import Key, all_newest, read_once
from clinic.messages.wordings.faults import Fault, fill
from clinic.messages.wordings.lengths import Length, length_of
from clinic.messages.wordings.saying import faults_now, filled_text, own_words_of, programs
from clinic.messages.wordings.slots import PARTS, Part, Slot
from clinic.patients.models import WRITTEN, Channel, Purpose


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """One kind on one channel. row: the practice's own words, None where the program's hold."""

    channel: Channel
    row: Wording | None
    fits: bool


@dataclass(frozen=True, slots=True)
class Line:
    kind: Kind[Any]
    cells: Sequence[Cell]


@dataclass(frozen=True, slots=True)
class Group:
    label: str
    lines: Sequence[Line]


def groups(language: str) -> list[Group]:
    """Every kind that a practice may word, by what it is for. Two queries at most."""
    held = all_newest()
    found = []
    with read_once():
        for purpose in Purpose:
            lines = [_line(kind, language, held) for kind in editable_kinds() if kind.purpose == purpose]
            if lines:
                found.append(Group(str(purpose.label), lines))
    return found


def editable_kinds() -> list[Kind[Any]]:
    return [kind for kind in kinds.registered().values() if kind.own_words is not None]


def fixed_kinds() -> list[Kind[Any]]:
    """Always in the program's words: a code has to be known for what it is, and colleagues are told the same."""
    return [kind for kind in kinds.registered().values() if kind.own_words is None]


def _line(kind: Kind[Any], language: str, held: Mapping[Key, Wording]) -> Line:
    return Line(kind, [_cell(kind, channel, held.get((kind.code, channel, language))) for channel in WRITTEN])


def _cell(kind: Kind[Any], channel: Channel, newest: Wording | None) -> Cell:
    row = newest if newest is not None and newest.text else None
    return Cell(channel=channel, row=row, fits=row is None or not faults_now(kind, row))


def unfit_rows() -> list[tuple[Kind[Any], Wording, list[Fault]]]:
    """Own words that do not fit any more: until somebody writes them anew they are not used."""
    known = {kind.code: kind for kind in editable_kinds()}
    with read_once():
        rows = [(known[row.kind], row) for row in all_newest().values() if row.text and row.kind in known]
        return [(kind, row, faults) for kind, row in rows if (faults := faults_now(kind, row))]


@dataclass(frozen=True, slots=True, kw_only=True)
class Preview:
    """letter: only of what may go by post; length: only of a text message."""

    subject: str
    text: str
    letter: str = ""
    length: Length | None = None


def preview(kind: Kind[Any], channel: str, language: str, *, subject: str, text: str, site: Site) -> Preview:
    """About an invented patient of this site. Raises KeyError for a name that the kind does not know."""
    own_words = own_words_of(kind)
    with speaking(language), timezone.override(site.zone):
        values = own_words.examples(site)
        if channel == Channel.TEXT:
            sms = one_line(fill(text, values))
            return Preview(subject="", text=sms, length=length_of(sms))
        end_url = example_address() if Purpose(kind.purpose) in own.ENDED_BY_ONE_CLICK else ""
        mail = (filled_text(text, values) + foot(site, end_url=end_url)).rstrip()
        letter = ""
        if kind.letter_by is not None:
            with on_paper():
                letter = filled_text(text, own_words.examples(site))
        return Preview(subject=one_line(fill(subject, values)), text=mail, letter=letter)


@dataclass(frozen=True, slots=True, kw_only=True)
class Given:
    """A slot as it is explained beside the field."""

    slot: Slot
    is_needed: bool
    in_subject: bool


def given(kind: Kind[Any], channel: str) -> list[Given]:
    body = PARTS[channel][-1]
    return [
        Given(
            slot=slot,
            is_needed=body in slot.needed_in,
            in_subject=channel == Channel.EMAIL and Part.SUBJECT in slot.may_stand_in,
        )
        for slot in own_words_of(kind).slots
        if body in slot.may_stand_in
    ]


@dataclass(frozen=True, slots=True)
class Change:
    """One version, with what it says differently from what held before it."""

    row: Wording
    pieces: Sequence[Piece]


def history(kind: Kind[Any], channel: str, language: str) -> list[Change]:
    """The newest first."""
    begun = _running(*programs(kind, channel, language))
    rows = Wording.objects.filter(kind=kind.code, channel=channel, language=language).select_related("written_by")
    before, found = begun, []
    for row in rows.order_by("number"):
        now = _running(row.subject, row.text) if row.text else begun
        found.append(Change(row, pieces(before, now)))
        before = now
    return found[::-1]


def _running(subject: str, text: str) -> str:
    paragraphs = [part for part in (subject, *text.split("\n\n")) if part.strip()]
    return f" {BREAK} ".join(paragraphs)


@dataclass(frozen=True, slots=True)
class Spoken:
    code: str
    name: str
    direction: str


def languages() -> list[Spoken]:
    return [language_of(code) for code, _name in settings.LANGUAGES]


def language_of(code: str) -> Spoken:
    return Spoken(code, name_of(code), "rtl" if get_language_info(code)["bidi"] else "ltr")
