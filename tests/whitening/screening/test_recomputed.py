"""The outcome of 5,000 random patients, worked out again from the table of facts, without the program's rules."""

from collections import Counter
from random import Random

from tests.whitening.screening.recomputed.meaning import BY_HAND, FACTS, MEANS, Is, found_in, standing
from tests.whitening.screening.recomputed.patients import Person, as_product, somebody
from whitening.screening.outcome import OF_GRADE, Outcome, Standing
from whitening.screening.rulebook import rules
from whitening.screening.rules import evaluate

PATIENTS = 5_000
ASKED = [code for code in rules() if code in MEANS]


def test_which_rows_have_a_second_reading() -> None:
    """A rule that is new in the program is read from its row again in meaning.py, or named there as left to hand."""
    assert set(rules()) - set(MEANS) <= BY_HAND
    assert not BY_HAND & set(MEANS)
    assert set(MEANS) <= set(FACTS)


def test_5000_random_patients() -> None:
    draw = Random(20260303)  # noqa: S311  (invented patients, the same in every run)
    seen = Counter[tuple[str, Is]]()
    for number in range(PATIENTS):
        person = somebody(draw)
        found = {code: state for code, state in found_in(person).items() if code in ASKED}
        outcome = evaluate(**as_product(person))
        assert states(outcome) == found, f"patient {number}: {differences(outcome, found, person)}"
        assert standing_of(outcome) == standing(found), f"patient {number}"
        seen.update(found.items())
    # Nothing agrees by never being there: each row was met there, and not there.
    for code in ASKED:
        assert seen[code, Is.THERE] >= 5, code
        assert seen[code, Is.ABSENT] >= 5, code


def states(outcome: Outcome) -> dict[str, Is]:
    """The program's own answer in the words of the second reading, for the rows that have one."""
    held = dict.fromkeys(ASKED, Is.ABSENT)
    held |= {one.rule.code: Is.OPEN for one in outcome.unanswered if one.rule.code in held}
    fired = [one for one in outcome.findings if one.rule.code in held]
    return held | {one.rule.code: Is.THERE if one.in_force else Is.QUIET for one in fired}


def standing_of(outcome: Outcome) -> int:
    """As the program counts, over the same rows."""
    ranks = [OF_GRADE[one.grade] for one in outcome.findings if one.rule.code in ASKED]
    ranks += [Standing.NOT_CLEARED for one in outcome.unanswered if one.rule.code in ASKED]
    return int(max(ranks, default=Standing.CLEAR))


def differences(outcome: Outcome, found: dict[str, Is], person: Person) -> str:
    ours = states(outcome)
    rows = [
        f"{code}: program {ours[code].name}, table {found[code].name}" for code in ASKED if ours[code] != found[code]
    ]
    return f"{'; '.join(rows)} for {person}"
