"""What people do at the chair and with its materials."""

from whitening.chairside.actions.checking import NothingToUndo, StaysAsItIs, UnknownBatch
from whitening.chairside.actions.closing import NotReadyToClose, close_session
from whitening.chairside.actions.lights import LightDetails, NoSuchLight, check_light, save_light
from whitening.chairside.actions.materials import (
    AlreadyHeld,
    BatchKnown,
    NotHeld,
    Received,
    hold_batch,
    receive_batch,
    release_batch,
    waste,
)
from whitening.chairside.actions.opening import GatesShut, OutOfDate, SessionRunning, confirm_identity, open_session
from whitening.chairside.actions.recording import (
    EntryRefused,
    SessionClosed,
    Tap,
    record_event,
    record_tap,
    undo_tap,
)

__all__ = [
    "AlreadyHeld",
    "BatchKnown",
    "EntryRefused",
    "GatesShut",
    "LightDetails",
    "NoSuchLight",
    "NotHeld",
    "NotReadyToClose",
    "NothingToUndo",
    "OutOfDate",
    "Received",
    "SessionClosed",
    "SessionRunning",
    "StaysAsItIs",
    "Tap",
    "UnknownBatch",
    "check_light",
    "close_session",
    "confirm_identity",
    "hold_batch",
    "open_session",
    "receive_batch",
    "record_event",
    "record_tap",
    "release_batch",
    "save_light",
    "undo_tap",
    "waste",
]
