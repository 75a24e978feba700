"""The guard's rules of combination, a pure function each: what stands against a move in a situation."""

from __future__ import annotations

import msgspec

from stagecall.points import COMPRESSOR_CALLS, HEAT_CALLS
from stagecall.rigs.contract import Move
from stagecall.rigs.guard.clearance import Refuse
from stagecall.rigs.guard.premises import Premises

VALVE_CALLS = frozenset({"O", "B"})


class Situation(msgspec.Struct, frozen=True, kw_only=True):
    """What stands and what is asked.

    ``calls`` and ``powered`` stand before the move, ``then`` and ``powered_then`` after it. ``opened``: switches opened
    in this run. ``compressor_runs``: it is seen running.
    """

    premises: Premises
    move: Move
    calls: frozenset[str]
    powered: bool
    opened: frozenset[str]
    compressor_runs: bool

    @property
    def then(self) -> frozenset[str]:
        """The calls after the move."""
        return self.calls if self.move.calls is None else self.move.calls

    @property
    def powered_then(self) -> bool:
        """Whether there is control power after the move."""
        return self.powered if self.move.power is None else self.move.power == "on"


def combination(here: Situation) -> Refuse | None:
    """Heat never runs against cooling, where that is wrong."""
    calls, premises = here.then, here.premises
    if calls & COMPRESSOR_CALLS and calls & HEAT_CALLS and not premises.heat_beside_compressor:
        both = " and ".join(sorted(calls & (COMPRESSOR_CALLS | HEAT_CALLS)))
        return Refuse(f"{both} together: heat never runs against cooling on this system")
    if "E" in calls and calls & COMPRESSOR_CALLS:
        return Refuse("E with a compressor call: emergency heat runs without the compressor")
    if calls & HEAT_CALLS and cools(calls, premises) and not premises.reheat:
        heat = " and ".join(sorted(calls & HEAT_CALLS))
        return Refuse(f"{heat} with the valve in cool: only a defrost that the outdoor unit starts may do that")
    return None


def cools(calls: frozenset[str], premises: Premises) -> bool:
    """Whether these calls cool, as far as the valve's convention is known."""
    match premises.valve:
        case "O":
            return "O" in calls
        case "B":
            return "B" not in calls and bool(calls & COMPRESSOR_CALLS)
    return bool(calls & COMPRESSOR_CALLS and calls & HEAT_CALLS and premises.heat_beside_compressor)


def reversing(here: Situation) -> Refuse | None:
    """The valve's call changes in a rest: Y off, minimum off, the valve's call in it, Y on."""
    if not (here.then ^ here.calls) & VALVE_CALLS or not here.powered:
        return None
    if here.calls & COMPRESSOR_CALLS:
        return Refuse("the valve's call never changes with the compressor called: end that call first")
    if here.then and here.compressor_runs:
        return Refuse("the valve's call never changes while the compressor runs")
    return None


def test_pins(here: Situation) -> Refuse | None:
    """A defrost is forced only in heating."""
    press = here.move.press
    if press is None or (here.powered_then and here.then & COMPRESSOR_CALLS and not cools(here.then, here.premises)):
        return None
    return Refuse(f"{press.replace('_', ' ')}: only while the heat pump is called to heat")


def switches(here: Situation) -> Refuse | None:
    """Switches are only ever opened; what was opened may be put back."""
    name = here.move.restore
    if name is None or name in here.opened:
        return None
    return Refuse(f"{name} was not opened in this run: a switch is never closed or bridged")


RULES = (combination, reversing, switches, test_pins)
"""In the order in which they are asked."""
