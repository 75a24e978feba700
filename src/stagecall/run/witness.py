"""Runs whose calls are witnessed: what to ask of the installed control, and when a step's calls are there."""

from __future__ import annotations

from collections.abc import Iterable
from collections.abc import Set as AbstractSet

from stagecall.model import plan
from stagecall.model.asking import ControlAsk
from stagecall.points import COMPRESSOR_CALLS, HEAT_CALLS

VALVE_CALLS = frozenset({"O", "B"})
WITNESS_LIMIT = 20 * 60_000
"""ms until a control has made what it was asked for: its own minimum off lasts 5 min, some count from a power-up."""

AT_REST = ControlAsk(demand="none", period="unoccupied")
"""Between sequences: nothing is called."""


def usual_ask(calls: Iterable[str], valve: str = "unknown") -> ControlAsk | None:
    """What brings these calls about at any thermostat; None where none would make them.

    *valve*: O or B where a heat pump's reversing valve is called by it.
    """
    wanted = _required(calls)
    if wanted & HEAT_CALLS:
        return ControlAsk(demand="heat", period="unoccupied")
    if wanted & COMPRESSOR_CALLS:
        heats = valve in VALVE_CALLS and (valve in wanted) == (valve == "B")
        return ControlAsk(demand="heat" if heats else "cool", period="unoccupied")
    if wanted == {"G"}:
        return ControlAsk(demand="none", period="occupied")
    return None if wanted else AT_REST


def matched(required: Iterable[str], seen: AbstractSet[str], valve: str = "unknown") -> bool:
    """Whether all required calls stand and none that is forbidden beside them.

    Of heating and cooling only what is required may stand; a fan call beside a heat call is extra, and fine.
    """
    wanted = _required(required)
    forbidden = (HEAT_CALLS | COMPRESSOR_CALLS) - wanted
    if not wanted & HEAT_CALLS:
        forbidden |= {"G"} - wanted
    if wanted & COMPRESSOR_CALLS:
        forbidden |= {valve} - wanted
    return wanted <= seen and not forbidden & seen


def cannot_witness(sequence: plan.Sequence) -> str:
    """Why this sequence cannot be run where calls are only witnessed; empty where it can."""
    for step in sequence.steps:
        if step.not_applicable:
            continue
        if step.challenge or step.power or step.open_switch or step.restore or step.press:
            return "it needs a rig that makes calls"
        if step.control is None and not _by_thermostat(_required(step.calls)):
            return f"no thermostat calls {' and '.join(step.calls)} alone"
    return ""


def _required(calls: Iterable[str]) -> frozenset[str]:
    """The valve's call counts only beside a compressor's: at rest controls differ in it."""
    wanted = frozenset(calls)
    return wanted if wanted & COMPRESSOR_CALLS else wanted - VALVE_CALLS


def _by_thermostat(calls: frozenset[str]) -> bool:
    if not calls or calls == {"G"}:
        return True
    return bool(calls & HEAT_CALLS) != bool(calls & COMPRESSOR_CALLS and "G" in calls)
