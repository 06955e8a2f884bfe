"""Pages of the demo as its front desk sees them, over HTTP, beside a bare answer of the same server."""

import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from functools import partial
from pathlib import Path

from benchmarks.frame import Figure, Result, Target
from scripts import processes
from scripts.demo import ROOT, answers, demo_environment, desk, free_port, prepare
from scripts.supervisor import Child, Supervisor
from scripts.visitor import Visitor

# The issue's own limit: a page of the demo answers in under 100 ms at the median on two cores.
PAGE = Target(limit=100, of="value")
PAGES = {"Today": "/", "Diary": "/diary/", "Patients": "/patients/"}


def results() -> Iterator[Result]:
    with tempfile.TemporaryDirectory(prefix="casebook-bench-") as folder, demo(Path(folder)) as (visitor, bare):
        for name, path in PAGES.items():
            expected = visitor.get(path)
            assert expected.status == 200, f"{path} answers {expected.status}"
            yield Figure(
                name=f"page: {name}",
                run=partial(visitor.get, path),
                yardstick="bare answer of the same server",
                yardstick_run=partial(bare.get, "/"),
                target=PAGE,
                size={"bytes": len(expected.text)},
                rounds=15,
                repeats=5,
            ).measure()


@contextmanager
def demo(home: Path) -> Iterator[tuple[Visitor, Visitor]]:
    """A signed-in front desk at a fresh demo, and a visitor of the bare server beside it."""
    port = free_port()
    env = demo_environment(var_dir=home, port=port)
    prepare(env)
    bare_port = free_port(after=port)
    web, bare = processes.web(bind=f"127.0.0.1:{port}"), processes.web(bind=f"127.0.0.1:{bare_port}")
    bare = ["benchmarks.hello:application" if word == "clinic.config.wsgi:application" else word for word in bare]
    children = [Child(name=name, command=words, log=home / name) for name, words in {"web": web, "bare": bare}.items()]
    with Supervisor(env=env, cwd=ROOT, children=children):
        assert answers(f"http://localhost:{port}/health/"), (home / "web").read_text()
        visitor = Visitor(f"http://localhost:{port}")
        person = desk(home)
        visitor.sign_in(email=person.email, password=person.password)
        yield visitor, Visitor(f"http://localhost:{bare_port}")
