"""The safe order of switching everything off."""

from __future__ import annotations

from stagecall.points import COMPRESSOR_CALLS, HEAT_CALLS
from stagecall.rigs.contract import Move
from stagecall.rigs.guard.rules import VALVE_CALLS

ELEMENTS_OFF_DELAY = 120_000
"""How long G is kept after the heat calls are dropped where elements may be hot: the strips' last stage is off by then
(sequencers break within 110 s)."""
VALVE_WAIT = 3_000
"""How long the valve's call is kept after the compressor's: a contactor lets go within 3 s."""


def all_off(calls: frozenset[str], *, hot_elements: bool) -> list[tuple[Move, int]]:
    """Moves, each with ms to wait after it.

    Heat calls first; G is kept for the off-delay where elements may be hot, then G; R is never cut. The reversing
    valve's call outlasts the compressor's.
    """
    moves: list[tuple[Move, int]] = []
    valve = calls & VALVE_CALLS if calls & COMPRESSOR_CALLS else frozenset()
    if calls & HEAT_CALLS:
        kept = frozenset({"G"}) | valve if hot_elements else calls - HEAT_CALLS - COMPRESSOR_CALLS
        moves.append((Move(calls=kept), ELEMENTS_OFF_DELAY if hot_elements else VALVE_WAIT if valve else 0))
        if not kept:
            return moves
    elif valve:
        moves.append((Move(calls=valve), VALVE_WAIT))
    if calls:
        moves.append((Move(calls=frozenset()), 0))
    return moves
