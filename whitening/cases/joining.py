"""Two records are one person: their cases come together, each as it was signed and recorded."""

from django.utils.translation import gettext_lazy as _

from clinic.accounts.dates import day_words
from clinic.patients import merging
from clinic.patients.merging import Joining, Moved, point_back, repoint
from clinic.trail.refusals import Refusal
from whitening.cases.models import Case


class BothOpen(Refusal):
    code = "cases.both_open"
    sentence = _(
        "Both records have an open case: of %(one)s and of %(other)s. One person has one course at a time. Close one "
        "of them; then join the records. Its answers and findings stay readable."
    )


def hold_cases(joining: Joining) -> list[Case]:
    """Of both, locked: whoever starts a session or opens a case comes before this or after it."""
    rows = Case.objects.filter(patient__in=joining.both).order_by("pk").select_for_update(of=("self",))
    return list(rows.select_related("site"))


def _check(joining: Joining) -> None:
    cases = [case for case in hold_cases(joining) if case.closed_at is None]
    if len(cases) > 1:
        one, other = (day_words(case.opened_at, case.site.zone) for case in cases[:2])
        raise BothOpen(one=one, other=other)


def _move(joining: Joining) -> Moved:
    return {"cases": repoint(Case.objects.all(), joining)}


def _back(joining: Joining, moved: Moved) -> None:
    point_back(Case.objects.all(), joining, moved.get("cases", ()))


ROOM = merging.Room(code="cases", check=_check, move=_move, back=_back)
