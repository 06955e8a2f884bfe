"""The renderer's process: what it may import and reach, how long it lives, what happens when it dies."""

import hashlib
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from urllib.parse import quote

import pytest

import clinic
from clinic.documents.client import POOL, RendererPool
from clinic.documents.failures import RenderFailed
from clinic.documents.jobs import Job
from tests.clinic.documents.drawing_jobs import job, svg, text_of

Pools = Callable[..., RendererPool]
PICTURE_OF_A_FILE = svg('<image href="file:///etc/hostname" width="9" height="9"/>')
PIECE_OF_A_FILE = svg('<use href="file:///etc/hostname#x"/>')
UNFINISHED = svg("<g>")
PAINTED_FROM_OUTSIDE = svg('<rect fill="url(http://127.0.0.1:9/x#y)" width="9" height="9"/>')
LINKED = svg('<a href="file:///etc/hostname"><text>x</text></a>')
# A document type of its own is the way to files and to entities.
DECLARED = "data:image/svg+xml," + quote(
    "<!DOCTYPE svg [<!ENTITY x SYSTEM 'file:///etc/hostname'>]>"
    "<svg xmlns='http://www.w3.org/2000/svg'><text>&x;</text></svg>"
)
ROOT = Path(clinic.__file__).parent.parent


def pid_of(pool: RendererPool) -> int:
    assert pool._renderer is not None
    return pool._renderer._process.pid


def refusal_of(pool: RendererPool, what: Job) -> str:
    with pytest.raises(RenderFailed) as caught:
        pool.draw(what)
    return caught.value.reason


def test_it_imports_neither_django_nor_numpy() -> None:
    listing = "import sys, clinic.documents.renderer; print(*{name.partition('.')[0] for name in sys.modules})"
    run = [sys.executable, "-c", listing]
    loaded = subprocess.run(run, cwd=ROOT, capture_output=True, text=True, check=True).stdout.split()
    assert "typst" in loaded
    assert not {"django", "numpy", "cv2", "celery"} & set(loaded)


def test_the_same_page_is_the_same_file_in_another_process(pool_with: Pools) -> None:
    page = job("<h1>Advice</h1><p>Rinse with salt water.</p>", identifier="0" * 32)
    warm = pool_with()
    warm.draw(job("<h1>Something else</h1><p>مرحبا</p>"))
    first, again, elsewhere = warm.draw(page), warm.draw(page), pool_with().draw(page)
    assert hashlib.sha256(first.pdf).digest() == hashlib.sha256(again.pdf).digest()
    assert hashlib.sha256(first.pdf).digest() == hashlib.sha256(elsewhere.pdf).digest()
    assert first.pages == 1


def test_it_sees_no_secret_of_ours(pool_with: Pools, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("CASEBOOK_SECRET_KEY", "not for the renderer")
    pool = pool_with()
    pool.draw(job("<h1>Advice</h1>"))
    environment = Path(f"/proc/{pid_of(pool)}/environ").read_bytes()
    assert b"CASEBOOK" not in environment
    assert b"not for the renderer" not in environment


def test_it_is_confined(pool_with: Pools) -> None:
    pool = pool_with(memory_bytes=700 * 1024 * 1024)
    pool.draw(job("<h1>Advice</h1>"))
    rows = Path(f"/proc/{pid_of(pool)}/limits").read_text().splitlines()
    limits = {row[:26].strip(): row[26:].split()[0] for row in rows}
    assert limits["Max address space"] == str(700 * 1024 * 1024)
    assert limits["Max core file size"] == "0"
    assert 30 <= int(limits["Max cpu time"]) <= 40


def test_it_is_renewed_after_its_number_of_jobs(pool_with: Pools) -> None:
    pool = pool_with(jobs=2)
    pool.draw(job("<h1>One</h1>"))
    first = pid_of(pool)
    pool.draw(job("<h1>Two</h1>"))
    assert pool._renderer is None
    pool.draw(job("<h1>Three</h1>"))
    assert pid_of(pool) != first


def test_it_is_renewed_when_it_has_grown(pool_with: Pools) -> None:
    pool = pool_with(resident_bytes=1)
    assert text_of(pool.draw(job("<h1>One</h1>")).pdf) == "One"
    assert pool._renderer is None


def test_one_that_died_while_idle_is_replaced_unseen(pool_with: Pools) -> None:
    pool = pool_with()
    pool.draw(job("<h1>One</h1>"))
    os.kill(pid_of(pool), signal.SIGKILL)
    assert text_of(pool.draw(job("<h1>Two</h1>")).pdf) == "Two"


def test_a_stopped_one_is_ended_at_the_deadline(pool_with: Pools) -> None:
    pool = pool_with(wall_s=6.0)
    pool.draw(job("<h1>One</h1>"))
    stopped = pid_of(pool)
    os.kill(stopped, signal.SIGSTOP)
    began = time.monotonic()
    assert refusal_of(pool, job("<h1>Two</h1>")) == "time"
    assert time.monotonic() - began < 9
    assert not Path(f"/proc/{stopped}").exists()
    assert text_of(pool.draw(job("<h1>Three</h1>")).pdf) == "Three"


def test_an_interrupted_question_does_not_mix_up_answers(pool_with: Pools) -> None:
    def interrupt(*_: object) -> None:
        raise KeyboardInterrupt

    pool = pool_with()
    pool.draw(job("<h1>One</h1>"))
    os.kill(pid_of(pool), signal.SIGSTOP)
    before = signal.signal(signal.SIGALRM, interrupt)
    signal.setitimer(signal.ITIMER_REAL, 0.3)
    try:
        with pytest.raises(KeyboardInterrupt):
            pool.draw(job("<h1>Two</h1>"))
    finally:
        signal.signal(signal.SIGALRM, before)
    assert text_of(pool.draw(job("<h1>Three</h1>")).pdf) == "Three"


def test_a_forked_worker_begins_its_own(pool_with: Pools) -> None:
    pool = pool_with()
    pool.draw(job("<h1>Parent</h1>"))
    parents = pid_of(pool)
    reading, writing = os.pipe()
    child = os.fork()
    if child == 0:
        drawn = text_of(pool.draw(job("<h1>Child</h1>")).pdf)
        own = pid_of(pool)
        pool.close()
        os.write(writing, f"{drawn} {own}".encode())
        os._exit(0)
    os.waitpid(child, 0)
    told, own_pid = os.read(reading, 100).decode().split()
    os.close(reading)
    os.close(writing)
    assert told == "Child"
    assert int(own_pid) != parents
    assert text_of(pool.draw(job("<h1>Still here</h1>")).pdf) == "Still here"
    assert pid_of(pool) == parents


def test_it_ends_with_its_parent_and_clears_up(tmp_path: Path) -> None:
    lines = (
        "import os",
        "from clinic.documents.client import POOL",
        "from tests.clinic.documents.drawing_jobs import job",
        "POOL.draw(job('<h1>One</h1>'))",
        "print(POOL._renderer._process.pid, POOL._renderer._folder, flush=True)",
        "os.kill(os.getpid(), 9)",
    )
    run = [sys.executable, "-c", "from django.conf import settings; settings.configure()\n" + "\n".join(lines)]
    environment = {**os.environ, "TMPDIR": str(tmp_path)}
    told = subprocess.run(run, cwd=ROOT, env=environment, capture_output=True, text=True, check=False).stdout
    pid, folder = told.split()
    for _ in range(100):
        if not Path(f"/proc/{pid}").exists() and not Path(folder).exists():
            break
        time.sleep(0.05)
    assert not Path(folder).exists()
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    "body",
    [
        "<img alt='x' src='file:///etc/hostname'>",
        "<img alt='x' src='http://127.0.0.1:9/x.png'>",
        "<img alt='x' src='https://example.org/x.png'>",
        "<img alt='x' src='ftp://127.0.0.1/x'>",
        "<img alt='x' src='asset:../limits.py'>",
        "<img alt='x' src='asset:/etc/hostname'>",
        "<img alt='x' src='asset:fonts/../../limits.py'>",
        "<img alt='x' src='ASSET:casebook-sans-400.ttf'>",
        "<link rel='stylesheet' href='file:///etc/hostname'>",
        "<style>@import url('http://127.0.0.1:9/x.css');</style>",
        "<style>body { background: url('file:///etc/hostname'); }</style>",
        "<style>@font-face { font-family: X; src: url('file:///etc/hostname'); }</style>",
        "<link rel='attachment' href='file:///etc/hostname'>",
        "<link rel='attachment' href='asset:casebook-sans-400.ttf'>",
        "<link rel='attachment' href='data:text/plain,hidden'>",
        "<a rel='attachment' href='data:text/plain,hidden'>x</a>",
        "<base href='file:///etc/'><img alt='x' src='hostname'>",
        f"<img alt='x' src='{PICTURE_OF_A_FILE}'>",
        "<img alt='x' src='data:application/postscript,%25!PS'>",
        "<img alt='x' src='data:image/gif;base64,R0lGODlhAQABAAAAACw='>",
        "<object data='file:///etc/hostname'></object>",
        "<embed src='http://127.0.0.1:9/x.svg'>",
        "<object type='image/png' data='http://127.0.0.1:9/x.png'></object>",
        "<link rel='stylesheet' href='http://127.0.0.1:9/x.css'>",
        "<link rel='stylesheet' href='data:text/css,@import url(file:///etc/hostname);'>",
        "<style>@import 'asset:../limits.py';</style>",
        "<style>@page { background: url('http://127.0.0.1:9/x.png'); }</style>",
        "<style>h1::before { content: url('file:///etc/hostname'); }</style>",
        "<ul style=\"list-style-image: url('http://127.0.0.1:9/x.png')\"><li>x</li></ul>",
        "<div style=\"border-image: url('file:///etc/hostname') 1\">x</div>",
        "<p style=\"background-image: url('http://[::1]:9/x.png')\">x</p>",
        "<img alt='x' src='file://localhost/etc/hostname'>",
        "<img alt='x' src='gopher://127.0.0.1:9/x'>",
        "<img alt='x' src='jar:file:///etc/hostname!/x'>",
        "<img alt='x' src='FILE:/etc/hostname'>",
        f"<img alt='x' src='{PIECE_OF_A_FILE}'>",
        f"<img alt='x' src='{svg('<style>@import url(file:///etc/hostname);</style>')}'>",
        f"<img alt='x' src='{PAINTED_FROM_OUTSIDE}'>",
        f"<img alt='x' src='{svg('<foreignObject><p>x</p></foreignObject>')}'>",
        f"<img alt='x' src='{svg('<script>alert(1)</script>')}'>",
        f"<img alt='x' src='{LINKED}'>",
        f"<img alt='x' src='{DECLARED}'>",
        "<script>alert(1)</script>",
        "<iframe src='file:///etc/hostname'></iframe>",
        "<form action='http://127.0.0.1:9/'><input name='x'></form>",
        "<p onclick='x()'>x</p>",
        "<img alt='x' src='data:image/png;base64,iVBORw0KGgo='>",
        "<img alt='x' src='data:image/svg+xml;base64,AAAA' srcset='http://127.0.0.1:9/x 2x'>",
    ],
)
def test_it_reaches_nothing_outside_the_page(body: str) -> None:
    assert refusal_of(POOL, job(f"<h1>Advice</h1>{body}")) == "blocked"


@pytest.mark.parametrize(
    ("body", "reason"),
    [
        ("<img src='picture.png' alt='x'>", "incomplete"),
        (f"<img src='{UNFINISHED}' alt='x'>", "incomplete"),
        ("<img src='data:image/svg+xml,%3Csvg/%3E'>", "incomplete"),
        ("<svg width='9' height='9'><rect width='9' height='9'/></svg>", "incomplete"),
        ("<a href='#nowhere'>x</a>", "incomplete"),
        ("<a href='javascript:alert(1)'>x</a>", "incomplete"),
        ("<table><tr><td>x<table><tr><td>y</td></tr></table></td></tr></table>", "incomplete"),
        ("<table><tr><td rowspan='2'>x</td></tr></table>", "blocked"),
        ("<ul><p>x</p></ul>", "incomplete"),
        ("<ol start='-1'><li>x</li></ol>", "incomplete"),
        ("<div><section class='new-page'>x</section></div>", "incomplete"),
        ("<svg aria-label='x' width='9' height='9'><image href='file:///etc/hostname'/></svg>", "blocked"),
    ],
)
def test_a_sheet_with_a_hole_is_refused(body: str, reason: str) -> None:
    assert refusal_of(POOL, job(f"<h1>Advice</h1>{body}")) == reason


def test_a_page_too_long_to_send_is_refused_here(pool_with: Pools) -> None:
    pool = pool_with(source_bytes=1000)
    assert refusal_of(pool, job("x" * 1000)) == "size"
    assert pool._renderer is None


def test_missing_fonts_are_named_in_the_log(
    pool_with: Pools, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    monkeypatch.setattr("clinic.documents.client.missing_files", lambda: ["casebook-sans-400.ttf"])
    assert refusal_of(pool_with(), job("<h1>Advice</h1>")) == "fonts"
    assert "manage.py build_fonts" in caplog.text
