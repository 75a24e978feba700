"""Sequences, step blocks and monitors as they are written in files.

Ranges keep the unit they were written with; ``documents.resolve`` turns these into the plan that a run and the judge
follow (see :mod:`stagecall.model.plan`).
"""

from __future__ import annotations

from typing import Literal

import msgspec

from stagecall.model.asking import ControlAsk
from stagecall.units import Quantity, Spread

Group = Literal["cool", "heat", "fan", "reversing", "aux", "accessory", "protection", "power", "acceptance"]


class Condition(msgspec.Struct, frozen=True, array_like=True):
    """``{point: state}``."""

    point: str
    state: str

    def __str__(self) -> str:
        return f"{self.point.replace('_', ' ')} {self.state}"


class Anchor(msgspec.Struct, frozen=True, array_like=True):
    """What a time is counted from: the step's begin, a point's edge, a call contact's edge, or the power's.

    Written ``step``, ``{point: state}``, ``{call: Y1}``, ``{call: Y1, goes: off}``, ``{power: on}``.
    """

    kind: Literal["step", "point", "call", "power"] = "step"
    name: str = ""
    state: str = "on"

    def __str__(self) -> str:
        match self.kind:
            case "step":
                return "the step's begin"
            case "call":
                return f"call {self.name} {self.state}"
            case "power":
                return f"power {self.state}"
            case "point":
                return f"{self.name.replace('_', ' ')} {self.state}"


class Limit(msgspec.Struct, frozen=True, kw_only=True):
    """A named range; maker data of the system may move it to ``figure ± allow`` within the hard bounds."""

    default: Spread
    source: str
    maker_data: str | None = None
    allow: Quantity | None = None
    never_below: Quantity | None = None
    never_above: Quantity | None = None


Bound = str | Spread
"""A limit's name, or a range written on the spot."""


class AppliesIf(msgspec.Struct, frozen=True, kw_only=True):
    """When an expectation applies: the system has the point, the call, or a setting or fitting of that name.

    ``no_point``, ``no_fitted``: it has none of that name.
    """

    point: str | None = None
    no_point: str | None = None
    call: str | None = None
    fitted: str | None = None
    no_fitted: str | None = None
    reason: str


class Expect(msgspec.Struct, frozen=True, kw_only=True):
    """What every form may carry besides its own keys."""

    applies_if: AppliesIf | None = None
    because: str | None = None


class Turns(Expect, frozen=True, kw_only=True, tag_field="form", tag="turns"):
    """The point changes to the state within the limit, counted from the anchor."""

    turns: Condition
    within: Bound
    usual: Bound | None = None
    since: Anchor = Anchor()
    each: Anchor | None = None
    unless: tuple[Condition, ...] = ()


class Stays(Expect, frozen=True, kw_only=True, tag_field="form", tag="stays"):
    """The point keeps the state: for a time, from a time on, until a condition; to the step's end where none is given.

    ``stays_for``, ``stays_from`` and ``stays_until`` are written ``for``, ``from`` and ``until``.
    """

    stays: Condition
    stays_for: Bound | None = msgspec.field(default=None, name="for")
    stays_from: Bound | None = msgspec.field(default=None, name="from")
    stays_until: Condition | None = msgspec.field(default=None, name="until")
    tolerate: Bound | None = None
    since: Anchor = Anchor()
    each: Anchor | None = None
    unless: tuple[Condition, ...] = ()


class Order(Expect, frozen=True, kw_only=True, tag_field="form", tag="order"):
    """The edges come one after the other; ``gaps`` holds a range (or None) between neighbours."""

    order: tuple[Condition, ...]
    gaps: tuple[Bound | None, ...] = ()
    attempt: Literal["first", "last", "each"] = "first"


class Never(Expect, frozen=True, kw_only=True, tag_field="form", tag="never"):
    """The conditions never hold together longer than ``tolerate``."""

    never: tuple[Condition, ...]
    tolerate: Bound | None = None
    unless: tuple[Condition, ...] = ()


class Reads(Expect, frozen=True, kw_only=True, tag_field="form", tag="reads"):
    """The quantity lies in the range: at the step's end, throughout it, or a time after its begin.

    ``at`` is ``end``, ``throughout`` or a time (written ``after 5 min``).
    """

    reads: str
    range: Bound
    at: Literal["end", "throughout"] | Quantity = "end"


class Times(Expect, frozen=True, kw_only=True, tag_field="form", tag="times"):
    """How often the point turns to the state in the step, or in any window of ``per`` opened by such an edge."""

    times: Condition
    count: Bound
    per: Bound | None = None


class Ask(Expect, frozen=True, kw_only=True, tag_field="form", tag="ask"):
    """A question only a person can answer (yes or no)."""

    ask: str
    who: str = "the person at the equipment"


Form = Turns | Stays | Order | Never | Reads | Times | Ask


Test = Literal["defrost_test"]
"""What a board's test pins start: a defrost."""


class Lasts(msgspec.Struct, frozen=True):
    """How long a step goes on.

    ``until expected`` (the default), a time, or ``until`` a condition that a later step relies on.
    """

    time: Quantity | None = None
    until: Condition | None = None


class Use(msgspec.Struct, frozen=True, kw_only=True, tag_field="what", tag="use"):
    """A step block's steps, put in here; ``limits`` override the block's own by name."""

    use: str
    limits: dict[str, Spread] = {}


class Step(msgspec.Struct, frozen=True, kw_only=True, tag_field="what", tag="step"):
    """A stretch with one complete set of calls (None: as in the step before)."""

    step: str
    because: str | None = None
    call: tuple[str, ...] | None = None
    valve: Literal["cool", "heat"] | None = None
    aux: int | None = None
    emergency: bool = False
    lasts: Lasts = Lasts()
    keep: Quantity | None = None
    challenge: Literal["minimum_off"] | None = None
    control: ControlAsk | None = None
    open_switch: str | None = None
    restore: str | None = None
    press: Test | None = None
    power: Literal["on", "off"] | None = None
    set: dict[str, Quantity] = {}
    read: tuple[str, ...] = ()
    expect: tuple[Form, ...] = ()


class Needs(msgspec.Struct, frozen=True, kw_only=True):
    """Calls that must be wired, points that must exist, switches that can be opened, kinds of equipment, features."""

    calls: tuple[str, ...] = ()
    points: tuple[str, ...] = ()
    switches: tuple[str, ...] = ()
    equipment: tuple[str, ...] = ()
    fitted: tuple[str, ...] = ()


class Sequence(msgspec.Struct, frozen=True, kw_only=True):
    """A commissioning test sequence."""

    sequence: str
    title: str
    purpose: str
    group: Group
    needs: Needs = Needs()
    conditions: dict[str, Spread] = {}
    limits: dict[str, Limit] = {}
    starts: tuple[Condition, ...] = ()
    caution: str | None = None
    monitors: tuple[str, ...] = ()
    clears: str | None = None
    steps: tuple[Use | Step, ...]


class Block(msgspec.Struct, frozen=True, kw_only=True):
    """Steps that several sequences share, with limits of their own; a block uses no other block."""

    block: str
    title: str
    limits: dict[str, Limit] = {}
    steps: tuple[Step, ...]


class Monitor(msgspec.Struct, frozen=True, kw_only=True):
    """Expectations without steps: whatever happens is judged."""

    monitor: str
    title: str
    purpose: str
    needs: Needs = Needs()
    limits: dict[str, Limit] = {}
    expect: tuple[Form, ...]
