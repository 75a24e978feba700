"""``valve:``, ``aux:`` and ``emergency:`` of a step, turned into terminals by the system's own set-up."""

from __future__ import annotations

from collections.abc import Iterator

from stagecall.model.sequence import Step
from stagecall.model.system import Control
from stagecall.points import COMPRESSOR_CALLS

_MODE = {"O": "cool", "B": "heat"}
"""What each convention energises the valve for."""
_STAGES = 3


def contradictions(step: Step) -> Iterator[tuple[str, str]]:
    """What cannot be meant: the key of the step, and the complaint."""
    letters = set(step.call or ())
    if step.valve is not None and letters & {"O", "B"}:
        yield "valve", "'valve' stands beside O or B in 'call'; either the one or the other"
    if step.aux is not None and not 1 <= step.aux <= _STAGES:
        yield "aux", f"'aux' is a number of stages, 1 to {_STAGES}; leave it out for none"
    if step.emergency and letters & COMPRESSOR_CALLS:
        yield "emergency", "emergency heat runs without the compressor; take Y1 and Y2 out of 'call'"
    if step.emergency and step.aux:
        yield "emergency", "'emergency' calls the auxiliary heat itself; either 'aux' or 'emergency'"


def called(step: Step, control: Control) -> tuple[tuple[str, ...], str]:
    """The terminals that the step's modes mean on this control, and why it cannot make them (empty where it can)."""
    if step.valve is not None and (lacking := lacks_convention(control)):
        return (), lacking
    stages = step.aux or 0
    if stages > len(control.aux):
        there = f"only {len(control.aux)} of them" if control.aux else "none of them"
        return (), f"{stages} stage{'s' * (stages > 1)} of auxiliary heat called for and {there} here"
    if step.emergency and not control.emergency:
        return (), "no emergency heat here"
    valve = (control.valve,) if step.valve is not None and _MODE[control.valve] == step.valve else ()
    return (*valve, *control.aux[:stages], *(control.emergency if step.emergency else ())), ""


def lacks_convention(control: Control) -> str:
    """Why the reversing valve cannot be called; the convention is stated by the system and never inferred."""
    return "" if control.valve in _MODE else "this system does not say whether O or B calls the reversing valve"


def worded(step: Step) -> tuple[str, ...]:
    """The modes in words, for a sequence that is explained by itself."""
    valve = () if step.valve is None else (f"valve to {step.valve}",)
    aux = (f"aux {step.aux}",) if step.aux else ()
    return (*valve, *aux, *(("emergency heat",) if step.emergency else ()))
