"""Rules for Python that the general linter does not know: clocks, time lookups, pure rooms, lengths."""

import ast
import re
from collections.abc import Iterator
from pathlib import Path

from scripts.house.breach import Breach

MOST_FUNCTION_LINES = 60
CLOCK = Path("clinic/trail/clock.py")
PRODUCT = ("clinic", "whitening")
# A database takes a datetime apart in its own zone, or in UTC: never in the site's.
_PARTS = r"time|year|iso_year|quarter|month|week|week_day|iso_week_day|day|hour|minute|second"
_LOOKUP = re.compile(rf"__date(?:__|$)|_at__(?:{_PARTS})(?:__|$)")
_TRUNCATING = re.compile(r"^(?:Trunc|Extract)\w*$")
_PURE_FILE = re.compile(r"/rules(?:\.py|/)|/protocol(?:\.py|/)|^whitening/shade/")
# A sentence that is translated when it is shown, and the type of such a sentence.
_WORDS = {
    "django.utils.translation": {"gettext_lazy", "ngettext_lazy", "pgettext_lazy", "gettext_noop"},
    "django.utils.functional": {"Promise"},
}
# The one place that knows which languages are whole, and the demo's page that shows the look in both directions.
_SWITCHES_LANGUAGE = {Path("clinic/accounts/languages.py"), Path("whitening/demo/views/look.py")}
# The one place that writes a date or a time for a reader.
_WRITES_DATES = Path("clinic/accounts/dates.py")
_CLOCK_OWNERS = {"datetime", "date", "timezone", "time"}
_CLOCK_CALLS = {"now", "utcnow", "today", "localtime", "localdate"}


def breaches(path: Path, text: str) -> Iterator[Breach]:
    tree = ast.parse(text)
    for node in ast.walk(tree):
        yield from _length(path, node)
        if path.parts[0] in PRODUCT:
            yield from _clock(path, node)
            yield from _lookup(path, node)
            yield from _language(path, node)
            yield from _dates(path, node)
            if _PURE_FILE.search(str(path)):
                yield from _purity(path, node)


def _length(path: Path, node: ast.AST) -> Iterator[Breach]:
    if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
        lines = (node.end_lineno or node.lineno) - node.lineno + 1
        if lines > MOST_FUNCTION_LINES:
            yield Breach(path, node.lineno, f"{node.name} has {lines} lines, more than {MOST_FUNCTION_LINES}.")


def _clock(path: Path, node: ast.AST) -> Iterator[Breach]:
    if path == CLOCK:
        return
    if isinstance(node, ast.Attribute) and node.attr in _CLOCK_CALLS:
        owner = node.value.attr if isinstance(node.value, ast.Attribute) else getattr(node.value, "id", "")
        if owner in _CLOCK_OWNERS:
            yield Breach(path, node.lineno, f"The clock is read by clinic.trail.clock alone ({owner}.{node.attr}).")
    if isinstance(node, ast.ImportFrom) and node.module == "django.utils.timezone":
        for name in node.names:
            if name.name in _CLOCK_CALLS:
                yield Breach(path, node.lineno, f"The clock is read by clinic.trail.clock alone ({name.name}).")
    if isinstance(node, ast.keyword) and node.arg in {"auto_now", "auto_now_add"}:
        yield Breach(path, node.value.lineno, f"The time of an action is an argument, not {node.arg}.")


def _language(path: Path, node: ast.AST) -> Iterator[Breach]:
    if path in _SWITCHES_LANGUAGE or not isinstance(node, ast.Attribute) or node.attr not in {"override", "activate"}:
        return
    if isinstance(node.value, ast.Name) and node.value.id == "translation":
        yield Breach(path, node.lineno, f"Switch by clinic.accounts.languages, not translation.{node.attr}.")


def _dates(path: Path, node: ast.AST) -> Iterator[Breach]:
    name = node.attr if isinstance(node, ast.Attribute) else node.id if isinstance(node, ast.Name) else ""
    if path != _WRITES_DATES and name in {"date_format", "time_format", "strftime"}:
        yield Breach(path, getattr(node, "lineno", 1), f"Write dates by clinic.accounts.dates, not {name}.")


def _lookup(path: Path, node: ast.AST) -> Iterator[Breach]:
    if isinstance(node, ast.keyword) and node.arg and _LOOKUP.search(node.arg):
        yield Breach(path, node.value.lineno, f"Compute half-open bounds instead of {node.arg}.")
    # A lookup may also stand as text, in an order or in a dictionary of conditions.
    text = node.value if isinstance(node, ast.Constant) and isinstance(node.value, str) else ""
    if re.fullmatch(r"-?\w+", text) and _LOOKUP.search(text):
        yield Breach(path, getattr(node, "lineno", 1), f"Compute half-open bounds instead of {text}.")
    if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("django.db.models.functions"):
        for name in node.names:
            if _TRUNCATING.match(name.name):
                yield Breach(path, node.lineno, f"Compute half-open bounds instead of {name.name}.")


def _purity(path: Path, node: ast.AST) -> Iterator[Breach]:
    """Rules decide over dataclasses: their sentences may be lazy translations, nothing else is Django's."""
    if isinstance(node, ast.Import):
        modules = [name.name for name in node.names]
        lazy = False
    elif isinstance(node, ast.ImportFrom):
        modules = [node.module or ""]
        lazy = {name.name for name in node.names} <= _WORDS.get(node.module or "", set())
    else:
        return
    if any(module.split(".")[0] == "django" for module in modules) and not lazy:
        yield Breach(path, node.lineno, f"Rules are plain Python ({modules[0]}).")
