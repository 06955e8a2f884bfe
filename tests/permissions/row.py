"""One line of the table of permissions, and short names for who is meant."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from tests.cast import Cast

Build = Callable[[Cast], Mapping[str, Any]]

# Attributes of the cast, all at Fernbrook.
DESK, ASSISTANT, CLINICIAN, HYGIENIST, MANAGER = "desk", "assistant", "clinician", "hygienist", "manager"
EVERYBODY = (DESK, ASSISTANT, CLINICIAN, HYGIENIST, MANAGER)
WITH_PATIENTS = (DESK, ASSISTANT, CLINICIAN, HYGIENIST)
AT_THE_CHAIR = (ASSISTANT, CLINICIAN, HYGIENIST)
CLINICIANS = (CLINICIAN, HYGIENIST)
DENTIST = (CLINICIAN,)
MANAGERS = (MANAGER,)
FINE = frozenset({200, 204, 302, 303, 400, 409, 422})


def nothing(_cast: Cast) -> Mapping[str, Any]:
    return {}


@dataclass(frozen=True, kw_only=True)
class Row:
    """What one address answers, to whom. `who` is everybody at Fernbrook who may come in."""

    name: str
    who: tuple[str, ...] = ()
    # Reads "POST" where sending a form is possible; GET and HEAD go together.
    methods: tuple[str, ...] = ("GET",)
    # The arguments of the address, made from the cast: {"pk": cast.patient.pk}.
    args: Build = nothing
    query: Build = nothing
    data: Build = nothing
    # An address whose arguments name something of a site: the other site's staff get 404.
    of_a_site: bool = True
    # The role at the object's own site decides, whichever is on the screen; not where an object is of several sites.
    by_its_own_site: bool = True
    # What those who may come in can be answered; 404 and 403 are never among it by default.
    fine: frozenset[int] = FINE
    # Whether sending the form ends at the sign-in page.
    leaves: bool = False
    # A GET that keeps something in the session, and why it must.
    writes_because: str = ""
    # What somebody outside is answered: set for public doors and for patients' links only.
    outside: frozenset[int] = frozenset()


def page(name: str, who: tuple[str, ...], **more: Any) -> Row:
    """Staff, reading only."""
    return Row(name=name, who=who, **more)


def form(name: str, who: tuple[str, ...], **more: Any) -> Row:
    """Staff: a page with a form that is sent to the same address."""
    return Row(name=name, who=who, methods=("GET", "POST"), **more)


def press(name: str, who: tuple[str, ...], **more: Any) -> Row:
    """Staff: a button without a page of its own."""
    return Row(name=name, who=who, methods=("POST",), **more)


def open_to_all(name: str, *, methods: tuple[str, ...] = ("GET",), outside: set[int] | None = None, **more: Any) -> Row:
    """A public door."""
    return Row(name=name, methods=methods, outside=frozenset(outside or {200}), **more)


def by_link(name: str, *, methods: tuple[str, ...] = ("GET",), outside: set[int] | None = None, **more: Any) -> Row:
    """A patient's page: without a link nobody comes in, staff included."""
    refused = frozenset(outside or {302, 303, 403, 404, 410})
    return Row(name=name, methods=methods, outside=refused, **more)
