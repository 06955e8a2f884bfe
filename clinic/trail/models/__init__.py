from clinic.trail.models.access import AccessEntry, AccessSeal, AccessSpool
from clinic.trail.models.entries import TrailEntry, TrailSeal

__all__ = ["AccessEntry", "AccessSeal", "AccessSpool", "TrailEntry", "TrailSeal"]
