"""Who did something, kept as plain id and name so that the trail knows no other part."""

from dataclasses import dataclass
from typing import Literal

ActorKind = Literal["staff", "patient", "system"]
ACTOR_KINDS: tuple[ActorKind, ...] = ("staff", "patient", "system")


@dataclass(frozen=True, slots=True, kw_only=True)
class Actor:
    kind: ActorKind
    id: str
    name: str

    def __post_init__(self) -> None:
        if self.kind not in ACTOR_KINDS:
            raise ValueError(f"{self.kind!r} is no kind of actor. Use one of: {', '.join(ACTOR_KINDS)}.")


# The sweeps, the sealer and the commands that nobody is signed in for.
SYSTEM = Actor(kind="system", id="system", name="Casebook")
