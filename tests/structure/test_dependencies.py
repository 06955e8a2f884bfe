"""What the program imports is locked, as is what pyproject.toml names; the locks hold hashes and no index address."""

import ast
import re
import sys
import tomllib
from importlib.metadata import packages_distributions
from pathlib import Path

from scripts.lint import ROOT

PRODUCT = ("clinic", "whitening")


def plain(name: str) -> str:
    return re.sub(r"[-_.]+", "-", name).lower()


def direct() -> set[str]:
    """The names in pyproject.toml, without versions and extras."""
    named = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]["dependencies"]
    return {plain(re.split(r"[\[<>=~! ]", line, maxsplit=1)[0]) for line in named}


def locked(lock: str) -> set[str]:
    return {plain(name) for name in re.findall(r"^([\w.-]+)==", (ROOT / lock).read_text(), re.MULTILINE)}


def imported() -> dict[str, str]:
    """Each third-party module that the product imports, with one file that does."""
    found: dict[str, str] = {}
    for path in (path for top in PRODUCT for path in (ROOT / top).rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text())):
            if isinstance(node, ast.Import):
                modules = [name.name for name in node.names]
            else:
                modules = [node.module] if isinstance(node, ast.ImportFrom) and node.module else []
            found |= {module.split(".", maxsplit=1)[0]: str(path.relative_to(ROOT)) for module in modules}
    ours = {*PRODUCT, *sys.stdlib_module_names}
    return {module: path for module, path in found.items() if module not in ours}


def test_every_import_is_locked() -> None:
    """A package of the development lock alone would be missing in a real installation."""
    known, runtime = packages_distributions(), locked("requirements.txt")
    missing = {
        module: path
        for module, path in imported().items()
        if not {plain(name) for name in known.get(module, [module])} & runtime
    }
    assert missing == {}


def test_everything_named_is_locked() -> None:
    assert direct() - locked("requirements.txt") == set()
    assert locked("requirements.txt") - locked("requirements-dev.txt") == set()


def test_the_locks_name_no_index() -> None:
    for lock in ("requirements.txt", "requirements-dev.txt"):
        text = Path(ROOT / lock).read_text()
        assert "://" not in text, f"{lock} names an address"
        blocks = re.split(r"^(?=[\w.-]+==)", text, flags=re.MULTILINE)[1:]
        assert [block.splitlines()[0] for block in blocks if "--hash=sha256:" not in block] == []
