"""The suite itself: every file collects a test, an undefined variable fails, the network is shut."""

import ast
import re
import socket
from pathlib import Path

import pytest
from django.template import Context, Engine, Template

from scripts.lint import ROOT
from tests.conftest import ALONE
from tests.undefined import FailOnUndefined

TESTS = ROOT / "tests"


def all_files() -> list[Path]:
    return sorted(path.relative_to(ROOT) for path in TESTS.rglob("test_*.py"))


def collects(tree: ast.Module) -> bool:
    """A test function, a test class, or a state machine's generated case."""
    for node in ast.walk(tree):
        if isinstance(node, ast.FunctionDef | ast.ClassDef) and node.name.lower().startswith("test"):
            return True
        if isinstance(node, ast.Assign) and ast.unparse(node.targets[0]).startswith("Test"):
            return True
    return False


@pytest.mark.parametrize("path", all_files(), ids=str)
def test_every_file_collects_a_test(path: Path) -> None:
    assert collects(ast.parse((ROOT / path).read_text())), f"{path} collects no test"
    assert (ROOT / path).with_name("__init__.py").exists(), f"{path.parent} is no package, so its files can hide others"


def test_no_test_hides_outside_a_test_file() -> None:
    others = [path for path in TESTS.rglob("*.py") if not path.name.startswith(("test_", "conftest"))]
    hidden = [
        f"{path.relative_to(ROOT)}: {node.name}"
        for path in others
        for node in ast.parse(path.read_text()).body
        if isinstance(node, ast.FunctionDef) and node.name.startswith("test_")
    ]
    assert hidden == []


def test_a_mark_that_runs_alone_stands_in_the_file_of_its_tests() -> None:
    """Such a run does not read the other files, so a mark that is put on from elsewhere would be missed."""
    pattern = re.compile(rf"mark\.(?:{'|'.join(ALONE)})\b|\.add_marker\((?!pytest\.mark\.bare\))")
    others = [path for path in TESTS.rglob("*.py") if not path.name.startswith("test_")]
    assert len(others) > 10
    assert [str(path.relative_to(ROOT)) for path in others if pattern.search(path.read_text())] == []


def test_an_undefined_variable_of_ours_fails() -> None:
    engine = Engine(dirs=[str(TESTS / "data" / "templates")], string_if_invalid=FailOnUndefined())
    page = engine.get_template("greeting.html")
    assert page.render(Context({"name": "Amara"})).strip() == "Amara"
    with pytest.raises(pytest.fail.Exception, match="Undefined template variable name in tests/data/templates"):
        page.render(Context({}))


def test_an_undefined_variable_of_a_library_is_nothing() -> None:
    engine = Engine(string_if_invalid=FailOnUndefined())
    assert Template("[{{ name }}]", engine=engine).render(Context({})) == "[]"


def test_no_test_reaches_another_machine() -> None:
    # 192.0.2.1 belongs to nobody: RFC 5737, TEST-NET-1.
    with pytest.raises((UserWarning, RuntimeError), match=r"192\.0\.2\.1"):
        socket.create_connection(("192.0.2.1", 80), timeout=1)
