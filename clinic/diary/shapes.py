"""How long a visit is and what it claims: as it was booked, or from its segments and what is usual."""

from typing import TYPE_CHECKING

from clinic.diary.engine.late import delayed
from clinic.diary.engine.visit import Shape
from clinic.diary.models import Need, ResourceClaim
from clinic.diary.segments import kept_shape, laid_out, segments_of
from clinic.diary.usual import Worked, known, worked_out

if TYPE_CHECKING:
    from clinic.diary.openings import Wanted

# Until one of these is there the patient does not sit down; meanwhile the room stays as it was prepared.
SEATED, STAYING = (Need.CLINICIAN, Need.EXAMINER), (Need.ROOM,)


def shaped(wanted: "Wanted") -> tuple[Shape, list[Worked]]:
    """The shape, and the working; none for a visit that keeps the length it was booked with. Three queries at most."""
    whole, worked = _kept(wanted), []
    if whole is None:
        segments, person = segments_of(wanted.visit_type), _whose(wanted)
        usual = known(wanted.visit_type, segments, person=person)
        worked = worked_out(segments, usual, person=person, cycle_minutes=wanted.cycle_minutes)
        whole = laid_out([one.segment for one in worked], cycles=wanted.cycles, light_kind=wanted.light_kind)
    return delayed(whole, wanted.late_minutes, seated=SEATED, staying=STAYING), worked


def _whose(wanted: "Wanted") -> int | None:
    """Whose own lengths count: the one who was asked for, or the only one who may serve."""
    return wanted.person or next((wanted.only[need] for need in SEATED if need in wanted.only), None)


def _kept(wanted: "Wanted") -> Shape | None:
    """Of a visit that is only moved: its claims. One that was made to fit a late patient is planned anew."""
    if wanted.without_booking is None:
        return None
    held = ResourceClaim.objects.filter(
        booking=wanted.without_booking,
        booking__visit_type=wanted.visit_type,
        booking__cycles=wanted.cycles,
        booking__light_kind=wanted.light_kind,
        booking__cycle_minutes=wanted.cycle_minutes,
        booking__late_minutes=0,
        active=True,
    )
    columns = ("need", "segment", "start_at", "end_at", "booking__starts_at", "booking__ends_at")
    rows = list(held.order_by("start_at", "pk").values_list(*columns))
    return kept_shape(rows) if rows else None
