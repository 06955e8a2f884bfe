"""An undefined variable in one of our templates fails the test that rendered it.

Django renders an undefined variable as nothing, so that a renamed context key would only be noticed
by a person who misses the words on the page.
"""

import inspect
from pathlib import Path
from typing import Self

import pytest
from django.template.base import Node

OURS = Path(__file__).resolve().parent.parent
THEIRS = OURS / ".venv"


class FailOnUndefined(str):
    """Goes where a template engine expects `string_if_invalid`; formatting it is the moment of use."""

    __slots__ = ()

    def __new__(cls) -> Self:
        return super().__new__(cls, "%s")

    def __mod__(self, variable: object) -> str:
        origin = _template_in_use()
        # Templates of Django and of the libraries rely on undefined being nothing; they are not ours to mend.
        if origin is None or not origin.is_relative_to(OURS) or origin.is_relative_to(THEIRS):
            return ""
        pytest.fail(f"Undefined template variable {variable!s} in {origin.relative_to(OURS)}", pytrace=False)


def _template_in_use() -> Path | None:
    """The file of the node that is being rendered, from the nearest frame that has one."""
    frame = inspect.currentframe()
    while frame is not None:
        node = frame.f_locals.get("self")
        if isinstance(node, Node) and getattr(node, "origin", None) is not None:
            return Path(str(node.origin.name))
        frame = frame.f_back
    return None
