"""One entry of a session's log."""

from dataclasses import dataclass
from datetime import datetime

from whitening.chairside.protocol.kinds import Kind
from whitening.chairside.protocol.payloads import Payload

# How the ids of entries begin that the opening itself writes; a device's own begin with a random number.
OPENING = "opening "
# And those of what is recorded on the case's page while the session runs.
ON_THE_CASE = "on the case "


@dataclass(frozen=True, slots=True, kw_only=True)
class Event:
    """`seq` is its place in the log. Entries of one tap share what stands before the dot of `client_id`."""

    seq: int
    payload: Payload
    happened_at: datetime
    recorded_at: datetime
    actor_id: str
    actor_name: str
    client_id: str

    @property
    def kind(self) -> Kind:
        return self.payload.kind

    @property
    def of_the_case(self) -> bool:
        """Recorded on the case's page, before the session or during it, and brought into its log."""
        return self.client_id.startswith((OPENING, ON_THE_CASE))

    @property
    def tap(self) -> str:
        return self.client_id.partition(".")[0]
