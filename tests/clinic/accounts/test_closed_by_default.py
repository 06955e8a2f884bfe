"""A view without a door opens to nobody, and an action's refusal is a page with a sentence."""

from collections.abc import Callable

import pytest
from django.core.exceptions import PermissionDenied
from django.db import OperationalError
from django.http import HttpRequest, HttpResponse
from django.test import Client, RequestFactory
from redis.exceptions import ConnectionError as RedisGone
from redis.exceptions import TimeoutError as RedisSilent

from clinic.accounts.doors import door_of, public
from clinic.accounts.middleware import ClosedByDefault
from clinic.accounts.rights import NotAllowed
from clinic.accounts.views import problems


def forgotten(_request: HttpRequest) -> HttpResponse:
    return HttpResponse("open")


closed = ClosedByDefault(lambda _request: HttpResponse())


def test_a_view_without_a_door_is_refused() -> None:
    with pytest.raises(PermissionDenied):
        closed.process_view(RequestFactory().get("/"), forgotten, (), {})


def test_a_view_with_a_door_is_not() -> None:
    opened = public(reason="For this test.")(forgotten)
    closed.process_view(RequestFactory().get("/"), opened, (), {})
    door = door_of(opened)
    assert door is not None
    assert (door.kind, door.reason, door.methods) == ("public", "For this test.", ("GET",))
    assert opened(RequestFactory().get("/")).status_code == 200
    assert opened(RequestFactory().head("/")).status_code == 200
    assert opened(RequestFactory().post("/")).status_code == 405


def test_a_refused_right_is_a_403_and_nothing_else_is_caught() -> None:
    request = RequestFactory().get("/")
    answer = closed.process_exception(request, NotAllowed())
    assert answer is not None
    assert answer.status_code == 403
    assert closed.process_exception(request, ValueError()) is None


@pytest.mark.parametrize(
    ("view", "status"),
    [
        (problems.bad_request, 400),
        (problems.forbidden, 403),
        (problems.not_found, 404),
        (problems.too_many, 429),
        (problems.server_error, 500),
        (lambda _request: problems.unavailable(), 503),
        (problems.csrf_failure, 403),
    ],
)
def test_problem_pages_need_no_database(view: Callable[[HttpRequest], HttpResponse], status: int) -> None:
    answer = view(RequestFactory().get("/"))
    assert answer.status_code == status
    assert "<h1>" in answer.content.decode()


@pytest.mark.parametrize(
    ("error", "status"),
    [(OperationalError("gone"), 503), (RedisGone("gone"), 503), (RedisSilent("hangs"), 503), (ValueError("ours"), 500)],
)
def test_a_server_that_is_away_asks_to_wait(
    client: Client, monkeypatch: pytest.MonkeyPatch, error: Exception, status: int
) -> None:
    def broken(**_times: object) -> None:
        raise error

    monkeypatch.setattr("clinic.accounts.middleware.ClosedByDefault.process_view", lambda *_args: broken())
    client.raise_request_exception = False
    answer = client.get("/sign-in/")
    assert (answer.status_code, answer.headers.get("Retry-After")) == (status, "30" if status == 503 else None)
