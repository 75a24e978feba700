"""What a kit promises of the points of a system: the bounds that a source declares."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Literal

from stagecall.model.event import PointBounds, SourceBounds
from stagecall.model.kit import Kit, Sight
from stagecall.points import point
from stagecall.units import Range


def row_of(kit: Kit, name: str) -> Sight | None:
    """The kit's row for a point; a numbered one uses its base name's. None where the kit is blind to it."""
    return kit.points.get(name) or kit.points.get(name.rstrip("0123456789").rstrip("_"))


def point_bounds(name: str, sight: Sight) -> PointBounds:
    """What a kit's row promises of a point of the vocabulary, in whole milliseconds and SI."""
    known = point(name)
    kind = None if known is None else known.quantity
    return PointBounds(
        sensed=sight.sensed,
        late_on=_milliseconds(sight, "on"),
        late_off=_milliseconds(sight, "off"),
        blind=int(sight.blind.to("time")) if sight.blind else 0,
        uncertainty=sight.uncertainty.to("difference" if kind == "temperature" else kind)
        if sight.uncertainty and kind
        else 0.0,
        holds=int(sight.holds.to("time")) if sight.holds else 0,
    )


def call_width(kit: Kit) -> int:
    """The widest interval of a call's edge, ms."""
    return max(1, int(kit.call_width.to("time"))) if kit.call_width else 1


def source_bounds(kit: Kit, names: Iterable[str]) -> SourceBounds:
    """What a real source that sees with this kit declares of a system with the points *names*."""
    rows = {name: sight for name in names if point(name) is not None and (sight := row_of(kit, name)) is not None}
    return SourceBounds(
        makes_calls=kit.makes_calls,
        points={name: point_bounds(name, sight) for name, sight in sorted(rows.items())},
        call_width=call_width(kit),
    )


def _milliseconds(sight: Sight, which: Literal["on", "off"]) -> tuple[int, int]:
    """How late a change is stamped; the clock ticks in ms, so never more exactly than within one."""
    spread = getattr(sight, which)
    limit = Range(0, 0) if spread is None else spread.to("time")
    least = int(limit.low or 0)
    return least, max(int(limit.high or 0), least + 1)
