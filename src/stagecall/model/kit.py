"""A kit: what this tester can see, and how well."""

from __future__ import annotations

import msgspec

from stagecall.points import Sensed
from stagecall.units import Quantity, Spread


class Sight(msgspec.Struct, frozen=True, kw_only=True):
    """How one point is seen.

    ``on`` and ``off``: how late a change is stamped, least and most. ``blind``: the longest pulse that can be missed.
    ``threshold``: the voltage or current from which it reads as on. For readings: ``uncertainty`` (±), ``every`` (how
    often it is read), ``holds`` (how long a reading stays valid), ``lag`` (the sensor's time constant).
    """

    sensed: Sensed
    on: Spread | None = None
    off: Spread | None = None
    blind: Quantity | None = None
    threshold: Quantity | None = None
    uncertainty: Quantity | None = None
    every: Quantity | None = None
    holds: Quantity | None = None
    lag: Quantity | None = None
    source: str = ""


class Kit(msgspec.Struct, frozen=True, kw_only=True):
    """The tester's means. Points are named without number; a numbered one uses its base name's row."""

    kit: str
    title: str
    makes_calls: bool = True
    call_width: Quantity | None = None
    """The widest interval in which a call contact's move is known."""
    points: dict[str, Sight]
