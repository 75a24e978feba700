"""How often a sequence lets the compressor start: by its calls, and by the equipment's own restarts in a call."""

from __future__ import annotations

from stagecall.model import plan
from stagecall.points import COMPRESSOR_CALLS

_STARTING = ("compressor", "contactor")

_STARTS_OF_A_DEFROST = 2
"""A board that shifts quietly starts the compressor anew after each of a defrost's two change-overs."""


def compressor_starts(sequence: plan.Sequence) -> int:
    """The starts that its steps expect, at the most that they allow; at least one where a compressor is called."""
    starts = sum(_expected(step) for step in sequence.steps)
    called = any(set(step.calls) & COMPRESSOR_CALLS for step in sequence.steps)
    return max(starts, 1) if called else 0


def _expected(step: plan.Step) -> int:
    starts = 0 if step.press is None else _STARTS_OF_A_DEFROST
    for form in step.expect:
        match form:
            case plan.Turns(turns=turns) if turns.point in _STARTING and turns.state == "on":
                starts = max(starts, 1)
            case plan.Times(times=times, count=count) if times.point in _STARTING and times.state == "on":
                starts = max(starts, int(count.range.high or 1))
    return starts
