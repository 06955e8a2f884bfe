"""What a visit holds, in few lines."""

from datetime import datetime

from clinic.diary.holding import course, holds
from tests.cast import Cast
from tests.clinic.diary.house import at, pencil


def test_it_works(diary: Cast) -> None:
    claims = list(pencil(diary, at(9), light_kind="arch").claims.select_related("resource"))
    found = {hold.name: [(one.start_at, one.end_at) for one in hold.stretches] for hold in holds(claims)}
    assert found == {
        "Willow": [(at(9), at(11, 20))],
        "Cleo Haddad": [(at(9, 10), at(11, 10))],
        # The assistant is there from set-up to turn-round.
        "Ari Zieliński": [(at(9), at(11, 20))],
        "Arch 1": [(at(9, 10), at(10, 55))],
    }
    assert [(one.name, one.start_at) for one in course(claims)] == [
        ("Set-up", at(9)),
        ("Start and barrier", at(9, 10)),
        ("Cycle", at(9, 35)),
        ("Finish", at(10, 55)),
        ("Turn-round", at(11, 10)),
    ]


def test_who_leaves_and_comes_back_is_named_once_with_two_stretches(diary: Cast) -> None:
    booking = pencil(diary, at(9))
    booking.claims.filter(segment="Cycle", resource__name="Cleo Haddad").delete()
    found: dict[str, list[datetime]] = {
        hold.name: [one.start_at for one in hold.stretches] for hold in holds(booking.claims.select_related("resource"))
    }
    assert found["Cleo Haddad"] == [at(9, 10), at(10, 55)]
    assert course([]) == []
