"""The chairside protocol: what a session's log says. Pure Python; it knows no database and reads no clock."""
