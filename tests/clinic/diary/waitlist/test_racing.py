"""At one moment: yes from two devices, no, two ticks as the time to answer ends, a desk. One of them gets the time."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.apart import Home, a_home

pytestmark = pytest.mark.timeout(3600)
# Who may have the time afterwards, by what became of the offer.
HAVE_IT = {
    "yes": {"Ines Costa 1 booked"},
    "no": {"Ines Costa 2 pending", "Ines Costa 3 booked"},
    "lapsed": {"Ines Costa 2 pending", "Ines Costa 3 booked"},
}


@pytest.fixture
def home(vendor: str, tmp_path: Path, request: pytest.FixtureRequest) -> Iterator[Home]:
    yield from a_home("tests.clinic.diary.waitlist.racing", vendor, tmp_path, request)


def test_one_time_and_everybody_at_once(home: Home) -> None:
    found = home.run()
    said = found["said"]
    assert said[3:5] == ["done", "done"], "a tick that comes too late has nothing to say"
    assert set(said) <= {"done", "diary.offer_ended", "diary.slot_taken"}
    answers = dict(zip(("yes", "yes again", "no"), said[:3], strict=True))
    assert [*answers.values()].count("done") == (found["answer"] in {"yes", "no"})
    assert (found["overlaps"], found["idle"]) == (0, 0)
    (has_it,) = found["at_ten"] or ["nobody"]
    # A tick that rang a moment before the answer has left it for the next one.
    assert has_it in HAVE_IT[found["answer"]] | ({"nobody"} if found["answer"] != "yes" else set())
    assert (said[5] == "done") == (has_it == "Ines Costa 3 booked")
    assert found["open"] == (["Ines Costa 2"] if has_it == "Ines Costa 2 pending" else [])
