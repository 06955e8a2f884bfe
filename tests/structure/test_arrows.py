"""Dependencies go one way: imports by contract, and tables by the same order.

A ForeignKey names its target as text, which an import linter cannot see.
"""

import subprocess
import tomllib
from pathlib import Path
from typing import Any

import pytest
from django.apps import apps
from django.db.models import Field, Model

from scripts.lint import ROOT, tool

PACKAGES = ("clinic", "whitening")


def contracts() -> list[dict[str, Any]]:
    read: list[dict[str, Any]] = tomllib.loads((ROOT / "pyproject.toml").read_text())["tool"]["importlinter"][
        "contracts"
    ]
    return read


def order() -> list[str]:
    """From the top down: each may know what stands after it."""
    layers: list[str] = next(each for each in contracts() if each["type"] == "layers")["layers"]
    return layers


def package_of(model: type[Model]) -> str:
    return ".".join(model.__module__.split(".")[:2])


def relations() -> list[tuple[str, str, str]]:
    found = []
    for model in apps.get_models(include_auto_created=True):
        for field in model._meta.get_fields():
            target = field.related_model if isinstance(field, Field) else None
            if isinstance(target, type) and package_of(model).split(".")[0] in PACKAGES:
                found.append((package_of(model), f"{model.__name__}.{field.name}", package_of(target)))
    return found


def test_imports_keep_the_contracts() -> None:
    done = subprocess.run(
        [tool("lint-imports"), "--no-logo", "--no-cache"], check=False, capture_output=True, text=True, cwd=ROOT
    )
    assert done.returncode == 0, done.stdout + done.stderr


def test_no_contract_has_an_exception() -> None:
    assert [each["name"] for each in contracts() if "ignore_imports" in each] == []


def test_every_package_has_its_place() -> None:
    packages = {f"{top}.{path.parent.name}" for top in PACKAGES for path in Path(ROOT / top).glob("*/__init__.py")}
    assert packages == set(order())


@pytest.mark.parametrize(("package", "field", "target"), relations(), ids=str)
def test_tables_point_down_only(package: str, field: str, target: str) -> None:
    if target.split(".", maxsplit=1)[0] not in PACKAGES:
        return  # a table of Django or of a library
    assert order().index(package) <= order().index(target), f"{package} {field} points up to {target}"
