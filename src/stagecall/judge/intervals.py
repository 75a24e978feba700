"""Arithmetic of moments that are known only to an interval. All in whole milliseconds unless said otherwise."""

from __future__ import annotations

from enum import Enum

import msgspec

from stagecall.units import Range


class Mark(msgspec.Struct, frozen=True, gc=False):
    """A moment somewhere in [e, t], both inclusive, and the number of the line that tells it."""

    e: int
    t: int
    n: int


class Place(Enum):
    """Where an interval lies against a limit."""

    INSIDE = "inside"
    OUTSIDE = "outside"
    ACROSS = "across"


def difference(response: Mark, anchor: Mark) -> tuple[int, int]:
    """Least and most time from *anchor* to *response*, ms."""
    return response.e - anchor.t, response.t - anchor.e


def place(least: float, most: float, low: float | None, high: float | None) -> Place:
    """Where [least, most] lies against [low, high]; a missing end is open, the ends belong to the limit."""
    if (low is None or least >= low) and (high is None or most <= high):
        return Place.INSIDE
    if (low is not None and most < low) or (high is not None and least > high):
        return Place.OUTSIDE
    return Place.ACROSS


def margin(least: float, most: float, low: float | None, high: float | None) -> float | None:
    """Distance from the worst end of [least, most] to the limit's nearest end, negative outside; None: no limit."""
    ends = []
    if low is not None:
        ends.append(least - low)
    if high is not None:
        ends.append(high - most)
    return min(ends) if ends else None


def time_limit(limit: Range) -> tuple[int | None, int | None]:
    """A range of times as (low, high) in ms; a lower end of 0 is none: a cause may be seen after its effect."""
    return (int(limit.low) if limit.low else None), (None if limit.high is None else int(limit.high))


def hull(marks: list[Mark]) -> Mark:
    """The interval that covers all *marks*, told by the last of them."""
    return Mark(min(mark.e for mark in marks), max(mark.t for mark in marks), marks[-1].n)
