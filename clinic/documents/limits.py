"""What one document may cost. Long renderings and endless loops are known and cannot be ruled out from inside."""

import json
from dataclasses import asdict, dataclass
from typing import Self

MEBIBYTE = 1024 * 1024


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    memory_bytes: int = 768 * MEBIBYTE
    cpu_s: int = 30
    wall_s: float = 60.0
    pages: int = 100
    source_bytes: int = 4 * MEBIBYTE
    # After so many documents, or above so much resident memory, a fresh process takes over.
    jobs: int = 200
    resident_bytes: int = 250 * MEBIBYTE

    def as_text(self) -> str:
        return json.dumps(asdict(self))

    @classmethod
    def from_text(cls, text: str) -> Self:
        return cls(**json.loads(text))
