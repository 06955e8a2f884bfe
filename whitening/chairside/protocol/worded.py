"""Enumerations that carry their own word for the screen."""

from enum import IntEnum, StrEnum
from typing import Self

from django.utils.functional import Promise


class Worded(StrEnum):
    """The value stands in the log, the word on the screen. Members are only ever appended: their place is a code."""

    label: str | Promise

    def __new__(cls, value: str, label: str | Promise) -> Self:
        member = str.__new__(cls, value)
        member._value_ = value
        member.label = label
        return member

    @classmethod
    def coded(cls, value: str) -> Self:
        """Raises ValueError for a word the log does not know."""
        for member in cls:
            if member.value == value:
                return member
        raise ValueError(value)


class Numbered(IntEnum):
    """A number that says nothing by itself, for what a browser may keep while the network is away."""

    label: str | Promise

    def __new__(cls, value: int, label: str | Promise) -> Self:
        member = int.__new__(cls, value)
        member._value_ = value
        member.label = label
        return member

    @classmethod
    def numbered(cls, value: int) -> Self:
        """Raises ValueError for a number nobody gave."""
        for member in cls:
            if member == value:
                return member
        raise ValueError(value)
