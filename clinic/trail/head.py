"""How far the trail reaches: one short query that tells whether anything was done since."""

from django.db.models import Sum

from clinic.trail.models import TrailEntry

# An entry that was numbered earlier and committed later than another one lies within these.
WINDOW = 200


def head() -> int:
    """Grows with every entry, also with one that becomes visible behind a newer one: their sum, not the highest."""
    newest = TrailEntry.objects.order_by("-pk").values("pk")[:WINDOW]
    total: int | None = newest.aggregate(total=Sum("pk"))["total"]
    return total or 0
