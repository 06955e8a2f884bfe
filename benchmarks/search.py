"""Finding a patient among a million while somebody types, beside the search box of Django's own admin."""

import os
import random
import statistics
import tempfile
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from types import SimpleNamespace
from typing import TYPE_CHECKING, Any

from benchmarks import crowd
from benchmarks.crowd import LARGE, SMALL, Size
from benchmarks.frame import Result, Target
from tests import prepared

if TYPE_CHECKING:
    from clinic.patients.models import Patient

ASKED, ADMIN_ASKED = 60, 12
FASTER, FLAT, STEADY = (Target(limit=limit, of="ratio") for limit in (0.1, 1.5, 3))


@dataclass(frozen=True, slots=True)
class Register:
    name: str
    user: Any
    typed: Mapping[str, Sequence[str]]


def results() -> Iterator[Result]:
    with tempfile.TemporaryDirectory(prefix="casebook-bench-") as folder, crowd.cluster(Path(folder)) as running:
        os.environ[prepared.HOME] = folder
        large = register(running, "large", LARGE, home=Path(folder))
        small = register(running, "small", SMALL, home=Path(folder))
        size = {"patients": LARGE.patients, "asked": ASKED}
        taken = {}
        for kind, words in large.typed.items():
            ours, admin = in_turns(large, words, large, words, yardstick=admin_search(), every=ASKED // ADMIN_ASKED)
            taken[kind] = ours
            yield beside(f"patient search: {kind}", ours, "Django admin's search box", admin, FASTER, size)
        for kind, words in large.typed.items():
            many, few = in_turns(large, words, small, small.typed[kind], yardstick=ours_search(small))
            yield beside(f"patient search: {kind}, size of the register", many, "10,000 patients", few, FLAT, size)
        worst = max(taken, key=lambda kind: p95(taken[kind]) / statistics.median(taken[kind]))
        yield spread(taken[worst], f"its own median ({worst})", size)


def ours_search(register: Register) -> Callable[[str], object]:
    from clinic.patients.search import find  # noqa: PLC0415  (Django is set up by now)

    return lambda words: find(asked=words, user=register.user)


def admin_search() -> Callable[[str], object]:
    """What the list of the admin asks the database for: the page of rows and its counts. Nothing is drawn."""
    from django.contrib.admin import AdminSite, ModelAdmin  # noqa: PLC0415
    from django.test import RequestFactory  # noqa: PLC0415

    from clinic.patients.models import Patient  # noqa: PLC0415

    class PatientAdmin(ModelAdmin["Patient"]):
        search_fields = ("name",)
        list_display = ("name", "birth_on", "phone")

    admin = PatientAdmin(Patient, AdminSite())

    def search(words: str) -> object:
        request = RequestFactory().get("/", {"q": words})
        request.user = SimpleNamespace(has_perm=lambda *_: True, is_active=True, is_staff=True)  # type: ignore[assignment]
        return list(admin.get_changelist_instance(request).result_list)

    return search


def in_turns(
    register: Register,
    words: Sequence[str],
    other: Register,
    other_words: Sequence[str],
    *,
    yardstick: Callable[[str], object],
    every: int = 1,
) -> tuple[list[float], list[float]]:
    """Milliseconds of each; the yardstick is asked every so often only where it is slow."""
    search = ours_search(register)
    ours, theirs = [], []
    for number, (one, another) in enumerate(zip(words, other_words, strict=True)):
        crowd.use(register.name)
        ours.append(timed(search, one))
        if number % every == 0:
            crowd.use(other.name)
            theirs.append(timed(yardstick, another))
    return ours, theirs


def timed(search: Callable[[str], object], words: str) -> float:
    started = time.perf_counter()
    search(words)
    return (time.perf_counter() - started) * 1000


def beside(
    name: str, ours: list[float], yardstick: str, theirs: list[float], target: Target, size: dict[str, int]
) -> Result:
    value, other = statistics.median(ours), statistics.median(theirs)
    return target.judge(name, value, yardstick, other, size=size)


def spread(ours: list[float], yardstick: str, size: dict[str, int]) -> Result:
    return STEADY.judge("patient search: worst p95", p95(ours), yardstick, statistics.median(ours), size=size)


def p95(samples: list[float]) -> float:
    return statistics.quantiles(samples, n=20)[-1]


def register(running: Any, name: str, size: Size, *, home: Path) -> Register:
    (home / name).mkdir()
    connection = crowd.connect(running, name, home=home / name)
    from clinic.patients.models import Patient  # noqa: PLC0415
    from tests.cast import open_practice  # noqa: PLC0415

    cast = open_practice()
    with crowd.without_indexes(connection, "clinic_patients_patient", "clinic_patients_namekey"):
        crowd.add_patients(connection, size.patients, site=cast.fernbrook.pk)
    dice = random.Random(3)  # noqa: S311
    chosen = [dice.randrange(1, size.patients) for _ in range(ASKED)]
    people = [Patient.objects.get(pk=pk) for pk in chosen]
    typed = {kind: [type_it(one, dice) for one in people] for kind, type_it in TYPED.items()}
    return Register(name, cast.desk, typed)


def misspelt(patient: "Patient", dice: random.Random) -> str:
    """The family name with two letters swapped, one left out, or a wrong one."""
    word = patient.name.split()[-1].lower().ljust(5, "e")
    at = dice.randrange(len(word) - 1)
    return dice.choice(
        (
            word[:at] + word[at + 1] + word[at] + word[at + 2 :],
            word[:at] + word[at + 1 :],
            word[:at] + dice.choice("aeiosnrt") + word[at + 1 :],
        )
    )


TYPED: Mapping[str, Callable[["Patient", random.Random], str]] = {
    "one letter": lambda one, _dice: one.name[:1],
    "two letters": lambda one, _dice: one.name[:2],
    "two letters of the family name": lambda one, _dice: one.name.split()[-1][:2],
    "four letters": lambda one, _dice: one.name[:4],
    "family name": lambda one, _dice: one.name.split()[-1],
    "whole name": lambda one, _dice: one.name,
    "family name first": lambda one, _dice: " ".join(reversed(one.name.split())),
    "beginnings of both": lambda one, _dice: " ".join(word[:3] for word in one.name.split()),
    "misspelt family name": misspelt,
    "both, one misspelt": lambda one, dice: f"{one.name.split()[0]} {misspelt(one, dice)}",
    "nobody": lambda _one, dice: "".join(dice.choices("qxyc", k=6)),
    "telephone": lambda one, _dice: "0" + one.search_digits[2:9],
}
