"""Runs whose calls are witnessed: what to ask of the installed control, and when a step's calls are there."""

from __future__ import annotations

from collections.abc import Iterable
from collections.abc import Set as AbstractSet

from stagecall.model import plan
from stagecall.model.asking import ControlAsk
from stagecall.points import COMPRESSOR_CALLS, HEAT_CALLS

WITNESS_LIMIT = 20 * 60_000
"""ms until a control has made what it was asked for: its own minimum off lasts 5 min, some count from a power-up."""

AT_REST = ControlAsk(demand="none", period="unoccupied")
"""Between sequences: nothing is called."""


def usual_ask(calls: Iterable[str]) -> ControlAsk | None:
    """What brings these calls about at any thermostat; None where none would make them."""
    wanted = frozenset(calls)
    if wanted & HEAT_CALLS:
        return ControlAsk(demand="heat", period="unoccupied")
    if wanted & COMPRESSOR_CALLS:
        return ControlAsk(demand="cool", period="unoccupied")
    if wanted == {"G"}:
        return ControlAsk(demand="none", period="occupied")
    return None if wanted else AT_REST


def matched(required: Iterable[str], seen: AbstractSet[str]) -> bool:
    """Whether all required calls stand and none that is forbidden beside them.

    Of heating and cooling only what is required may stand; a fan call beside a heat call is extra, and fine.
    """
    wanted = frozenset(required)
    forbidden = (HEAT_CALLS | COMPRESSOR_CALLS) - wanted
    if not wanted & HEAT_CALLS:
        forbidden |= {"G"} - wanted
    return wanted <= seen and not forbidden & seen


def cannot_witness(sequence: plan.Sequence) -> str:
    """Why this sequence cannot be run where calls are only witnessed; empty where it can."""
    for step in sequence.steps:
        if step.not_applicable:
            continue
        if step.challenge or step.power or step.open_switch or step.restore or step.press:
            return "it needs a rig that makes calls"
        if step.control is None and not _by_thermostat(frozenset(step.calls)):
            return f"no thermostat calls {' and '.join(step.calls)} alone"
    return ""


def _by_thermostat(calls: frozenset[str]) -> bool:
    if not calls or calls == {"G"}:
        return True
    return bool(calls & HEAT_CALLS) != bool(calls & COMPRESSOR_CALLS and "G" in calls)
