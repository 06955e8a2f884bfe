"""Deny by default, address by address: who comes in, who is refused, and that a refusal writes nothing."""

from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager

import pytest
from django.db import connection, transaction
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from clinic.accounts.doors import Door, door_of
from clinic.accounts.models import Role, Site, User
from clinic.accounts.rights import Right
from tests.answer import Answer
from tests.cast import Cast, hire, sign_in, works_also
from tests.permissions.row import EVERYBODY, Row, nothing
from tests.permissions.table import rows
from tests.permissions.walk import routes
from tests.support import nothing_written

ROWS = rows()
STAFF = [row for row in ROWS if not row.outside]
OTHERS = [row for row in ROWS if row.outside]
OF_A_SITE = [row for row in STAFF if row.of_a_site and row.args.__name__ != "nothing"]
TWO_ROLES = [row for row in STAFF if row.args is not nothing and set(row.who) != set(EVERYBODY)]
READING = [row for row in STAFF if "GET" in row.methods and not row.writes_because]
METHODS = ("GET", "POST", "PUT", "PATCH", "DELETE")
WRITES = ("INSERT", "UPDATE", "DELETE", "SAVEPOINT", "BEGIN")


def by_name(row: Row) -> str:
    return row.name


@contextmanager
def undone() -> Iterator[None]:
    """What one person did on the page is gone before the next one comes."""
    with transaction.atomic():
        yield
        transaction.set_rollback(True)


class Visit:
    """One address of the cast's world, made before anybody asks for it, so that making it counts for nothing."""

    def __init__(self, row: Row, cast: Cast) -> None:
        self.address = reverse(row.name, kwargs=dict(row.args(cast)))
        self.query = row.query(cast)
        self.data = row.data(cast)

    def by(self, client: Client, method: str) -> Answer:
        if method == "GET":
            return client.get(self.address, self.query)
        return client.post(self.address, self.data) if method == "POST" else client.generic(method, self.address)


def door(row: Row) -> Door:
    found = door_of(next(route.view for route in routes() if route.name == row.name))
    assert found is not None
    return found


def test_every_route_has_one_line_and_every_line_a_route() -> None:
    known = Counter(route.name or route.path for route in routes())
    listed = Counter(row.name for row in ROWS)
    assert sorted((known - listed).elements()) == [], "these addresses have no line in tests/permissions/rows"
    assert sorted((listed - known).elements()) == [], "these lines have no address"


def test_every_view_has_a_door() -> None:
    assert [route.path for route in routes() if door_of(route.view) is None] == []


def test_every_public_door_says_why() -> None:
    assert [
        route.path for route in routes() if (hung := door_of(route.view)) and hung.kind == "public" and not hung.reason
    ] == []


@pytest.mark.parametrize("row", ROWS, ids=by_name)
def test_the_door_takes_the_methods_of_its_line(row: Row) -> None:
    assert sorted(door(row).methods) == sorted(row.methods)


@pytest.mark.parametrize("row", STAFF, ids=by_name)
def test_signed_out(row: Row, cast: Cast) -> None:
    visit = Visit(row, cast)
    for method in METHODS:
        with nothing_written():
            answer = visit.by(Client(), method)
        assert answer.status_code in {302, 303}
        assert answer.headers["Location"].startswith(reverse("account_login"))


@pytest.mark.parametrize("row", OTHERS, ids=by_name)
def test_outside(row: Row, cast: Cast) -> None:
    visit = Visit(row, cast)
    for method in row.methods:
        with undone():
            assert visit.by(Client(), method).status_code in row.outside


@pytest.mark.parametrize("row", STAFF, ids=by_name)
def test_right_role(row: Row, cast: Cast) -> None:
    visit = Visit(row, cast)
    for method in row.methods:
        for who in row.who:
            with undone():
                answer = visit.by(sign_in(getattr(cast, who)), method)
                assert answer.status_code in row.fine, f"{method} by {who}: {answer.status_code}"
                where = answer.headers.get("Location", "").partition("?")[0]
                assert row.leaves or where != reverse("account_login"), f"{method} by {who} was sent to sign in"


@pytest.mark.parametrize("row", STAFF, ids=by_name)
def test_wrong_role(row: Row, cast: Cast) -> None:
    visit = Visit(row, cast)
    for method in row.methods:
        for who in (one for one in EVERYBODY if one not in row.who):
            client = sign_in(getattr(cast, who))
            with nothing_written():
                answer = visit.by(client, method)
            assert answer.status_code == 403, f"{method} by {who}: {answer.status_code}"
    if row in TWO_ROLES:
        two_roles(row, cast, visit)


@pytest.mark.parametrize("row", OF_A_SITE, ids=by_name)
def test_other_site(row: Row, cast: Cast) -> None:
    """Somebody of the same role and with the same rights, whose site is the other one."""
    visit = Visit(row, cast)
    client = sign_in(twin_elsewhere(cast, row.who[0]))
    for method in row.methods:
        with nothing_written():
            answer = visit.by(client, method)
        assert answer.status_code == 404, f"{method}: {answer.status_code}"


@pytest.mark.parametrize("row", ROWS, ids=by_name)
def test_wrong_method(row: Row, cast: Cast) -> None:
    visit = Visit(row, cast)
    client = sign_in(getattr(cast, row.who[0])) if row.who else Client()
    for method in (one for one in METHODS if one not in row.methods):
        with nothing_written():
            answer = visit.by(client, method)
        assert answer.status_code == 405, f"{method}: {answer.status_code}"


@pytest.mark.parametrize("row", READING, ids=by_name)
def test_reading_writes_nothing(row: Row, cast: Cast) -> None:
    """No write transaction on a GET: looking at a page never waits for another person's saving."""
    client = sign_in(getattr(cast, row.who[0]))
    visit = Visit(row, cast)
    with nothing_written(), CaptureQueriesContext(connection) as asked:
        visit.by(client, "GET")
    assert [entry["sql"] for entry in asked.captured_queries if entry["sql"].startswith(WRITES)] == []


def two_roles(row: Row, cast: Cast, visit: Visit) -> None:
    """Somebody who may there and not here, then the other way round, looks at the site where it would go wrong."""
    right = row.who[0]
    wrong = next(who for who in EVERYBODY if role_of(cast, who) not in {role_of(cast, one) for one in row.who})
    screen = cast.alderton if row.by_its_own_site else cast.fernbrook
    client = with_two_roles(cast, wrong, role_of(cast, right), screen)
    with nothing_written():
        answers = [visit.by(client, method).status_code for method in row.methods]
    assert set(answers) == {403}, f"{wrong} here, {right} there: {answers}"
    if "GET" in row.methods:
        answer = visit.by(with_two_roles(cast, right, role_of(cast, wrong), screen), "GET")
        assert answer.status_code in row.fine, f"{right} here, {wrong} there: {answer.status_code}"


def role_of(cast: Cast, who: str) -> Role:
    return Role(getattr(cast, who).memberships.get(site=cast.fernbrook).role)


def with_two_roles(cast: Cast, who: str, role: Role, screen: Site) -> Client:
    """That person of Fernbrook, with every right there is, has this role at Alderton; and the site on the screen."""
    User.objects.filter(pk=getattr(cast, who).pk).update(**{str(right): True for right in Right})
    return sign_in(works_also(getattr(cast, who), cast.alderton, role), screen=screen)


def twin_elsewhere(cast: Cast, who: str) -> User:
    person = getattr(cast, who)
    rights = {str(right): getattr(person, right) for right in Right}
    role = Role(person.memberships.get().role)
    return hire(cast.alderton, role, name="Twin Elsewhere", email="twin@example.org", **rights)
