"""Yes or no for a container engine: the web process answers; with --green, all is well."""

import threading
from collections.abc import Iterator
from http.server import BaseHTTPRequestHandler, HTTPServer

import pytest

from clinic.config import probe


class Health(BaseHTTPRequestHandler):
    code = 200
    asked: list[str | None] = []

    def do_GET(self) -> None:
        self.asked.append(self.headers["Host"])
        self.send_response(self.code)
        self.end_headers()

    def log_request(self, code: int | str = "-", size: int | str = "-") -> None:
        """Nothing: a test prints no log."""


@pytest.fixture
def server() -> Iterator[str]:
    web = HTTPServer(("127.0.0.1", 0), Health)
    thread = threading.Thread(target=web.serve_forever)
    thread.start()
    try:
        yield f"http://127.0.0.1:{web.server_port}/health/"
    finally:
        web.shutdown()
        thread.join()
        web.server_close()


@pytest.mark.parametrize(
    ("code", "answers", "green"), [(200, 0, 0), (503, 0, 1), (400, 1, 1), (404, 1, 1), (500, 1, 1)]
)
def test_it_works(server: str, monkeypatch: pytest.MonkeyPatch, code: int, answers: int, green: int) -> None:
    monkeypatch.setattr(Health, "code", code)
    assert (probe.main(server), probe.main(server, "--green")) == (answers, green)


def test_it_asks_for_the_first_host_of_the_practice(server: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(Health, "asked", [])
    monkeypatch.setenv("CASEBOOK_HOSTS", "casebook.example.org, other.example.org")
    assert (probe.main(server), Health.asked) == (0, ["casebook.example.org"])


def test_nobody_there_is_no() -> None:
    assert probe.main("http://127.0.0.1:9/health/") == 1
