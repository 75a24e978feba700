"""A sequence made ready for one system: limits resolved, calls named, blocks put in. The judge reads this from the log.

All times are whole milliseconds, all other values SI.
"""

from __future__ import annotations

from typing import Literal

import msgspec

from stagecall.model.asking import ControlAsk
from stagecall.model.sequence import Anchor, Condition, Group, Needs, Test
from stagecall.units import Kind, Range


class ResolvedLimit(msgspec.Struct, frozen=True, kw_only=True):
    """A range with its pedigree.

    ``origin`` says where the figures came from: the sequence's default, the system's maker data, an override; ``note``
    says what was clipped, if anything was.
    """

    name: str
    range: Range
    kind: Kind = "time"
    source: str = ""
    origin: Literal["default", "maker data", "override", "written here"] = "default"
    note: str = ""


class Expectation(msgspec.Struct, frozen=True, kw_only=True, omit_defaults=True):
    """What every form carries. ``id`` is stable: the step's slug and an ordinal (``time-the-minimum-off.1``)."""

    id: str
    text: str
    not_applicable: str = ""
    """Why it does not apply on this system; empty where it does."""


class Turns(Expectation, frozen=True, kw_only=True, omit_defaults=True, tag_field="form", tag="turns"):
    """The point changes to the state within the limit, counted from the anchor."""

    turns: Condition
    within: ResolvedLimit
    usual: Range | None = None
    since: Anchor = Anchor()
    each: Anchor | None = None
    unless: tuple[Condition, ...] = ()


class Stays(Expectation, frozen=True, kw_only=True, omit_defaults=True, tag_field="form", tag="stays"):
    """Holds from ``anchor + begin`` for ``length`` ms, or until a condition, or to the step's end (both None)."""

    stays: Condition
    begin: int = 0
    length: int | None = None
    until: Condition | None = None
    tolerate: int | None = None
    """None: the point's blind time, up to 1 s."""
    since: Anchor = Anchor()
    each: Anchor | None = None
    unless: tuple[Condition, ...] = ()


class Order(Expectation, frozen=True, kw_only=True, omit_defaults=True, tag_field="form", tag="order"):
    """The edges come one after the other."""

    order: tuple[Condition, ...]
    gaps: tuple[ResolvedLimit | None, ...] = ()
    """One for each pair of neighbours, or empty."""
    attempt: Literal["first", "last", "each"] = "first"


class Never(Expectation, frozen=True, kw_only=True, omit_defaults=True, tag_field="form", tag="never"):
    """The conditions never hold together longer than ``tolerate`` (None: the blind time, up to 1 s)."""

    never: tuple[Condition, ...]
    tolerate: int | None = None
    unless: tuple[Condition, ...] = ()


class Reads(Expectation, frozen=True, kw_only=True, omit_defaults=True, tag_field="form", tag="reads"):
    """The quantity lies in the limit; ``at`` a time: that many ms after the step's anchor."""

    reads: str
    limit: ResolvedLimit
    at: Literal["end", "throughout"] | int = "end"


class Times(Expectation, frozen=True, kw_only=True, omit_defaults=True, tag_field="form", tag="times"):
    """How often the point turns to the state; ``per`` ms: in any window opened by such an edge."""

    times: Condition
    count: ResolvedLimit
    per: int | None = None


class Ask(Expectation, frozen=True, kw_only=True, omit_defaults=True, tag_field="form", tag="ask"):
    """A question only a person can answer."""

    ask: str
    who: str = "the person at the equipment"


Form = Turns | Stays | Order | Never | Reads | Times | Ask


class Step(msgspec.Struct, frozen=True, kw_only=True, omit_defaults=True):
    """One step, its calls complete and named by terminal."""

    slug: str
    title: str
    because: str = ""
    calls: tuple[str, ...] = ()
    lasts: int | None = None
    """Fixed length in ms; None: until expected, or until ``until``."""
    until: Condition | None = None
    keep: int = 0
    challenge: Literal["minimum_off"] | None = None
    control: ControlAsk | None = None
    open_switch: str | None = None
    restore: str | None = None
    press: Test | None = None
    power: Literal["on", "off"] | None = None
    set: dict[str, float] = {}
    read: tuple[str, ...] = ()
    expect: tuple[Form, ...] = ()
    not_applicable: str = ""
    """Why the step is left out on this system (a call or switch that it has not); its expectations are too."""


class Sequence(msgspec.Struct, frozen=True, kw_only=True, omit_defaults=True):
    """A sequence ready to run and to be judged."""

    name: str
    title: str
    purpose: str = ""
    group: Group
    needs: Needs = Needs()
    conditions: dict[str, Range] = {}
    limits: dict[str, ResolvedLimit] = {}
    starts: tuple[Condition, ...] = ()
    caution: str = ""
    monitors: tuple[str, ...] = ()
    clears: str = ""
    steps: tuple[Step, ...] = ()
    not_applicable: str = ""
    """Why the whole sequence does not apply here; empty where it does."""
    deferred: str = ""
    """The conditions it needs and has not; empty where it can run now."""
    must_run: bool = False
    """The user or the system's list named it: what cannot be run is then not verified."""


class Monitor(msgspec.Struct, frozen=True, kw_only=True, omit_defaults=True):
    """A monitor ready to judge."""

    name: str
    title: str
    purpose: str = ""
    limits: dict[str, ResolvedLimit] = {}
    expect: tuple[Form, ...] = ()
    not_applicable: str = ""
    must_run: bool = False
    """A sequence of this run, the user or the system's list named it: idle is then not verified."""
