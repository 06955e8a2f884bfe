"""One test run: its database engine, its environment, and the fixtures every test may use.

`--db=sqlite` (the default) uses one database file per worker, `--db=postgres` one private cluster
per run with one database per worker.
"""

import clinic.config.zones  # noqa: F401  (first: before anything imports zoneinfo)

# isort: split
import gc
import os
import shutil
import tempfile
from collections.abc import Callable, Generator, Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from django.conf import settings
from django.test import override_settings
from hypothesis import settings as hypothesis_settings

from clinic.documents import fonts

# What the helpers of the tests assert says what it found, as the tests themselves do.
HELPERS = ("apart", "browser", "catalogues", "clinic", "journeys", "mailserver", "support", "whitening", "world")
pytest.register_assert_rewrite(*[f"tests.{name}" for name in HELPERS])

# isort: split
from tests import browser, environment, postgres, prepared, soak, world  # noqa: E402  (once their asserts are told)
from tests.undefined import FailOnUndefined  # noqa: E402

if TYPE_CHECKING:
    from pytest_django.fixtures import Settings

    from tests.cast import Cast
    from tests.catalogues import Catalogues

SOAK = pytest.StashKey[dict[str, dict[str, object]]]()
HOME = pytest.StashKey[Path]()
# Two cores shared with a database and a browser: a slow example says nothing about the code.
hypothesis_settings.register_profile("suite", deadline=None, print_blob=True)
hypothesis_settings.load_profile("suite")
# Who asks for none of these has nothing to do with the engine of the run: once, on SQLite, is enough.
OF_THE_ENGINE = {"db", "transactional_db", "vendor", "postgres_cluster"}
# Marks that are run by themselves, and stand in the test files only (tests/structure/test_tests.py).
ALONE = ("world", "journey", "soak")
CLUSTER = pytest.StashKey[postgres.Cluster]()


def pytest_addoption(parser: pytest.Parser) -> None:
    choice = parser.getgroup("casebook")
    choice.addoption("--soak", action="store_true", help="the full sizes of the tests marked soak")
    choice.addoption("--db", choices=["sqlite", "postgres"], default="sqlite", help="database engine of this run")


@pytest.hookimpl(tryfirst=True)
def pytest_configure(config: pytest.Config) -> None:
    """Before Django is set up. A worker of a parallel run inherits what its controller prepared."""
    soak.is_whole = bool(config.getoption("--soak"))
    if hasattr(config, "workerinput"):
        return
    if settings.configured:
        raise pytest.UsageError("The settings were read before the tests prepared them: unset DJANGO_SETTINGS_MODULE.")
    home = config.stash[HOME] = Path(tempfile.mkdtemp(prefix="casebook-tests-"))
    os.environ[prepared.HOME] = str(home / "prepared")
    (home / "prepared").mkdir()
    url = environment.sqlite_url(home)
    if config.getoption("--db") == "postgres" or config.getoption("markexpr") == "world":
        cluster = config.stash[CLUSTER] = postgres.start()
        os.environ[postgres.HOME] = str(cluster.home)
    if config.getoption("--db") == "postgres":
        url = cluster.url("casebook")
    environment.prepare(var_dir=home, database_url=url)
    # A fresh clone has no fonts yet, and documents are refused without them.
    fonts.build()
    # pytest-django sets Django up after this, and only when the settings have been read.
    assert home == settings.VAR_DIR


def pytest_ignore_collect(collection_path: Path, config: pytest.Config) -> bool | None:
    """A run of one mark reads only the files that speak of it: importing all the others takes each worker long."""
    wanted = config.getoption("markexpr")
    if wanted in ALONE and collection_path.match("test_*.py") and f"mark.{wanted}" not in collection_path.read_text():
        return True
    return None


@pytest.hookimpl(wrapper=True)
def pytest_collection() -> Generator[None, object, object]:
    """Thousands of tests that stay until the end are no rubbish: looking through them again and again costs more
    than a tenth of the run."""
    gc.disable()
    try:
        return (yield)
    finally:
        gc.enable()
        gc.freeze()


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """The longest first, so that no worker begins one when the others are done."""
    items.sort(key=lambda item: "journey" not in item.keywords)
    for item in items:
        if not _asks_a_database(item):
            item.add_marker(pytest.mark.bare)


def _asks_a_database(item: pytest.Item) -> bool:
    fixtures = set(getattr(item, "fixturenames", ()))
    return item.get_closest_marker("django_db") is not None or bool(fixtures & OF_THE_ENGINE)


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(item: pytest.Item) -> Generator[None, pytest.TestReport, pytest.TestReport]:
    """What the processes of a failed test wrote last: their logs are gone with their world."""
    report = yield
    if report.failed:
        values = [getattr(value, "world", value) for value in getattr(item, "funcargs", {}).values()]
        for each in [value for value in values if isinstance(value, world.World)][:1]:
            report.sections.append(("processes of the world", each.logs()))
    return report


def pytest_sessionfinish(session: pytest.Session) -> None:
    figures = session.config.stash.get(SOAK, None)
    if figures and session.config.getoption("--soak"):
        soak.write(figures, database=session.config.getoption("--db"), at=datetime.now(tz=UTC))


def pytest_unconfigure(config: pytest.Config) -> None:
    if CLUSTER in config.stash:
        os.environ.pop(postgres.HOME, None)
        config.stash[CLUSTER].stop()
    if HOME in config.stash:
        shutil.rmtree(config.stash[HOME], ignore_errors=True)


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_setupnodes(config: pytest.Config, specs: list[object]) -> None:
    """Each worker gets a folder of its own, so that no two share a file, a queue or a database."""
    for spec in specs:
        folder = config.stash[HOME] / str(vars(spec)["id"])
        folder.mkdir()
        vars(spec)["env"] |= {"CASEBOOK_VAR_DIR": str(folder), "CASEBOOK_STATIC_ROOT": str(folder / "static")}


@pytest.fixture(scope="session")
def django_db_modify_db_settings(
    django_db_modify_db_settings_parallel_suffix: None, django_db_keepdb: bool, request: pytest.FixtureRequest
) -> None:
    """SQLite in a file: in memory, locks and journals behave differently from a real installation."""
    test = settings.DATABASES["default"].setdefault("TEST", {})
    folder, vendor = Path(settings.VAR_DIR), str(request.config.getoption("--db"))
    test["NAME"] = str(folder / "test.sqlite3") if vendor == "sqlite" else f"test_{folder.name}"
    if django_db_keepdb:
        cluster = request.getfixturevalue("postgres_cluster") if vendor == "postgres" else None
        prepared.database(cluster, into=folder, name=test["NAME"])
        if cluster is None:
            (folder / "casebook.sqlite3").rename(test["NAME"])


@pytest.fixture(scope="session")
def django_db_keepdb() -> bool:
    """Workers begin with copies of one database that was migrated for all of them; a run without any migrates."""
    return "PYTEST_XDIST_WORKER" in os.environ


@pytest.fixture(scope="session", autouse=True)
def _quick_and_strict() -> Iterator[None]:
    """A cheap password hash, static files without a build, and no undefined variable in a template."""
    storages = settings.STORAGES | {"staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"}}
    engine = settings.TEMPLATES[0]
    strict = engine | {"OPTIONS": engine["OPTIONS"] | {"string_if_invalid": FailOnUndefined()}}
    quick = ["django.contrib.auth.hashers.MD5PasswordHasher"]
    with override_settings(STORAGES=storages, TEMPLATES=[strict], PASSWORD_HASHERS=quick):
        yield


@pytest.fixture
def note(request: pytest.FixtureRequest) -> Callable[..., None]:
    """`note(attempts=…, overlaps=0)`: figures that `make soak` writes down for this test."""

    def keep(**figures: object) -> None:
        request.config.stash.setdefault(SOAK, {})[request.node.nodeid] = figures

    return keep


@pytest.fixture(scope="session")
def vendor(pytestconfig: pytest.Config) -> str:
    """The engine of this run, for a test that makes a database of its own: "sqlite" or "postgres"."""
    return str(pytestconfig.getoption("--db"))


@pytest.fixture(scope="session")
def postgres_cluster(pytestconfig: pytest.Config) -> Iterator[postgres.Cluster]:
    """The run's own cluster when there is one, else a fresh one."""
    if postgres.HOME in os.environ:
        yield postgres.borrowed(Path(os.environ[postgres.HOME]))
        return
    cluster = postgres.start()
    try:
        yield cluster
    finally:
        cluster.stop()


@pytest.fixture
def cast(db: None) -> "Cast":
    """A fresh practice with its people; see tests/cast.py for who each of them is."""
    from tests.cast import open_practice  # noqa: PLC0415  (tables exist only once Django is set up)
    from tests.remembered import remembered  # noqa: PLC0415

    return remembered(open_practice)()


@pytest.fixture
def catalogues(settings: "Settings", tmp_path: Path) -> "Catalogues":
    """`catalogues.install("de", "ar")`: from then on these languages are spoken, in a few sentences."""
    from tests.catalogues import Catalogues  # noqa: PLC0415  (the settings are prepared first)

    return Catalogues(settings, tmp_path / "locale")


@pytest.fixture
def size(pytestconfig: pytest.Config) -> Callable[[int], int]:
    """How often to repeat: the full number in `make soak`, a twentieth of it in `make test`."""
    soak = bool(pytestconfig.getoption("--soak"))
    return lambda full: full if soak else max(1, full // 20)


@pytest.fixture
def watched_browser() -> Iterator[browser.Watched]:
    """A browser for this test alone; see tests/browser.py for what makes it fail."""
    with browser.watched() as watch:
        yield watch


@pytest.fixture(params=world.KINDS)
def real_world(request: pytest.FixtureRequest) -> Iterator[world.World]:
    """The program as real processes, once with PostgreSQL and Redis, once on the embedded default.

    `@pytest.mark.parametrize("real_world", ["server"], indirect=True)` asks for one of them.
    """
    cluster = request.getfixturevalue("postgres_cluster") if request.param == "server" else None
    with world.start(request.param, cluster=cluster, seed="tests.seed") as running:
        yield running
