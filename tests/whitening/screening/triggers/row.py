"""A rule, what brings it up, and the nearest thing that does not."""

from typing import Any

Row = tuple[str, dict[str, Any], dict[str, Any]]
