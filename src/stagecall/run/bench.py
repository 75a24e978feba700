"""Runs whose calls are made by a board: which sequences its relays can carry out."""

from __future__ import annotations

from collections.abc import Iterator

from stagecall.model import plan
from stagecall.model.kit import Board


def cannot_make(sequence: plan.Sequence, board: Board) -> str:
    """Why a board wired like this cannot carry the sequence out; empty where it can."""
    lacking = (why for step in sequence.steps if not step.not_applicable for why in _lacking(step, board))
    return next(lacking, "")


def _lacking(step: plan.Step, board: Board) -> Iterator[str]:
    calls = frozenset(step.calls)
    for switch in (step.open_switch, step.restore):
        if switch is not None and switch not in board.opens:
            yield f"no relay of this bench lies in the {switch.replace('_', ' ')}"
    if unmade := sorted(calls - set(board.calls)):
        yield f"no relay of this bench makes {' and '.join(unmade)}"
    for one, other in board.exclusive:
        if {one, other} <= calls:
            yield f"this bench never makes {one} and {other} together"
    if step.power is not None and board.power is None:
        yield "no relay of this bench lies in the control's 24 V"
    if step.press is not None:
        yield "no relay of this bench lies on the test pins"
    if step.set:
        yield f"a bench cannot set {' and '.join(name.replace('_', ' ') for name in step.set)}"
