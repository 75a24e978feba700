"""The guard's rules of combination, a pure function each: what stands against a move in a situation."""

from __future__ import annotations

from collections.abc import Iterator

import msgspec

from stagecall.points import COMPRESSOR_CALLS, HEAT_CALLS
from stagecall.rigs.contract import Move
from stagecall.rigs.guard.clearance import Refuse
from stagecall.rigs.guard.energy import Act, stands_against
from stagecall.rigs.guard.premises import Premises

VALVE_CALLS = frozenset({"O", "B"})


class Situation(msgspec.Struct, frozen=True, kw_only=True):
    """What stands and what is asked.

    ``calls`` and ``powered`` stand before the move, ``then`` and ``powered_then`` after it. ``opened``: switches opened
    in this run. ``compressor_runs``: it is seen running. ``challenge``: the call is made early on purpose.
    ``cuts``: power cuts so far. ``heat_held``: heat was dropped for safety, and nobody has answered yet.
    """

    premises: Premises
    move: Move
    calls: frozenset[str]
    powered: bool
    opened: frozenset[str]
    compressor_runs: bool
    challenge: bool = False
    cuts: int = 0
    heat_held: bool = False

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
    if calls >= VALVE_CALLS:
        return Refuse("O and B together: a reversing valve is called by one of them")
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


def take_over(here: Situation) -> Refuse | None:
    """A compressor call that ends as another begins is a stop and a start without a rest."""
    before, after = here.calls & COMPRESSOR_CALLS, here.then & COMPRESSOR_CALLS
    if before and after and not before & after:
        return Refuse("one compressor call never takes over from another: end that call first")
    return None


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


def held(here: Situation) -> Refuse | None:
    """Nothing calls for heat after heat was dropped for safety, until a person has answered."""
    if not here.heat_held or not here.then & HEAT_CALLS:
        return None
    return Refuse("heat was dropped for safety, and nobody has said yet that it may be called again")


def energy(here: Situation) -> Refuse | None:
    """The safety table."""
    if here.premises.here.ground == "model":
        return None
    circumstances = msgspec.structs.replace(
        here.premises.here, cuts=here.cuts, burner_called=bool(here.calls & HEAT_CALLS)
    )
    for act in _acts(here):
        if because := stands_against(act, circumstances):
            return Refuse(because)
    return None


def _acts(here: Situation) -> Iterator[Act]:
    if here.then - here.calls:
        yield "relay_calls"
    if here.challenge:
        yield "early_restart"
    if here.move.open_switch is not None and not here.premises.here.hands:
        yield "opening_relay"
    if here.powered and not here.powered_then:
        yield "power_cut"
    if "line_voltage" in here.move.surroundings:
        yield "sag"


RULES = (combination, take_over, reversing, switches, test_pins, held, energy)
"""In the order in which they are asked."""
