"""A view whose address names one row gets it through an access function, which asks at the row's own site.

The door of such a view asks only whether the person may anywhere (clinic.accounts.doors), so nothing else would.
"""

import ast
import inspect
from collections.abc import Callable
from functools import cache
from pathlib import Path
from types import SimpleNamespace

from clinic.accounts.doors import door_of
from tests.permissions.walk import routes


def test_every_view_of_one_row_asks_at_the_row() -> None:
    of_one_row = [
        route.view
        for route in routes()
        if "pk>" in route.path and (door := door_of(route.view)) is not None and door.kind == "staff"
    ]
    assert len(of_one_row) > 50
    assert [view.__qualname__ for view in of_one_row if not asks_at_the_row(view)] == []


def test_a_view_that_fetches_by_itself_is_noticed() -> None:
    assert asks_at_the_row(through_a_helper)
    assert not asks_at_the_row(by_itself)


def asks_at_the_row(view: Callable[..., object]) -> bool:
    """Itself, or a function beside it that it calls, calls an access function and says what for."""
    function = inspect.unwrap(view)
    beside, seen, ahead = functions_of(inspect.getfile(function)), set[str](), [function.__name__]
    while ahead:
        name = ahead.pop()
        seen.add(name)
        for call in (node for node in ast.walk(beside[name]) if isinstance(node, ast.Call)):
            called = call.func.id if isinstance(call.func, ast.Name) else ""
            if called.startswith("access_"):
                return any(word.arg == "to" for word in call.keywords)
            if called in beside and called not in seen:
                ahead.append(called)
    return False


@cache
def functions_of(file: str) -> dict[str, ast.FunctionDef]:
    tree = ast.parse(Path(file).read_text(encoding="utf-8"))
    return {node.name: node for node in tree.body if isinstance(node, ast.FunctionDef)}


access_row = SimpleNamespace


def through_a_helper() -> object:
    return _row(1)


def _row(pk: int) -> object:
    return access_row(pk=pk, to="read")


def by_itself() -> object:
    return SimpleNamespace(pk=1)
