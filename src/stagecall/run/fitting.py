"""What of a sequence can be made on a real rig: by the safety table, and by what is shut off."""

from __future__ import annotations

from collections.abc import Iterator

import msgspec

from stagecall.model import plan
from stagecall.model.sequence import Condition
from stagecall.model.system import Energy, System
from stagecall.points import HEAT_CALLS
from stagecall.rigs.guard import Act, Circumstances, stands_against

_AIR = ("supply_air", "air_split", "boiler_water")
_STILL = {"compressor": ("compressor", "outdoor_fan", *_AIR), "elements": ("strip", *_AIR)}
"""Points that do not answer while that is isolated; coils and contactors do."""
_FIRE = ("flame", "burner", "flame_current")


def refused(sequence: plan.Sequence, here: Circumstances) -> str:
    """Why the safety table keeps this sequence from being begun; empty where it does not."""
    for act, circumstances in _acts(sequence, here):
        if because := stands_against(act, circumstances):
            return because
    return ""


def _acts(sequence: plan.Sequence, here: Circumstances) -> Iterator[tuple[Act, Circumstances]]:
    if sequence.clears:
        yield "lockout_trials", here
    calls: frozenset[str] = frozenset()
    cuts = here.cuts
    for step in sequence.steps:
        if step.not_applicable:
            continue
        if step.challenge is not None:
            yield "early_restart", here
        if step.open_switch is not None and not here.hands:
            yield "opening_relay", here
        if "line_voltage" in step.set:
            yield "sag", here
        if step.power == "off":
            burning = bool((calls | frozenset(step.calls)) & HEAT_CALLS)
            yield "power_cut", msgspec.structs.replace(here, cuts=cuts, burner_called=burning)
            cuts += 1
        calls = frozenset(step.calls)


def fitted_to(sequence: plan.Sequence, installed: System) -> plan.Sequence:
    """The sequence as it can be made on a real rig of this system.

    What is isolated cannot answer: those expectations do not apply. Without fuel a sequence that needs a flame is
    deferred, and the weather is never set.
    """
    if sequence.not_applicable:
        return sequence
    energy = installed.energy
    if energy.state != "mockup" and any(set(step.set) - {"line_voltage"} for step in sequence.steps):
        return msgspec.structs.replace(sequence, not_applicable="air temperatures are set on a model or mockup only")
    if energy.fuel == "shut_off" and any(_lights(form) for step in sequence.steps for form in step.expect):
        return msgspec.structs.replace(sequence, deferred="the fuel is shut off, and a flame is needed")
    still = _still(energy)
    if not still:
        return sequence
    return msgspec.structs.replace(sequence, steps=tuple(_beside(step, still) for step in sequence.steps))


def _beside(step: plan.Step, still: dict[str, str]) -> plan.Step:
    until = None if step.until is not None and _base(step.until.point) in still else step.until
    return msgspec.structs.replace(step, until=until, expect=tuple(_without(form, still) for form in step.expect))


def _still(energy: Energy) -> dict[str, str]:
    return {
        name: f"{part} isolated"
        for part, names in _STILL.items()
        if getattr(energy, part) == "isolated"
        for name in names
    }


def _without(form: plan.Form, still: dict[str, str]) -> plan.Form:
    names = [one.point for one in _conditions(form)]
    names += [form.reads] if isinstance(form, plan.Reads) else []
    why = next((still[_base(name)] for name in names if _base(name) in still), "")
    return msgspec.structs.replace(form, not_applicable=why) if why and not form.not_applicable else form


def _lights(form: plan.Form) -> bool:
    if form.not_applicable:
        return False
    return any(one.state == "on" and _base(one.point) in _FIRE for one in _conditions(form))


def _conditions(form: plan.Form) -> Iterator[Condition]:
    """What is expected to come or to stay; what must never come is no matter here."""
    match form:
        case plan.Turns(turns=condition, since=since):
            yield condition
            if since.kind == "point":
                yield Condition(since.name, since.state)
        case plan.Stays(stays=condition) | plan.Times(times=condition):
            yield condition
        case plan.Order(order=order):
            yield from order


def _base(name: str) -> str:
    """``strip_2`` is a strip."""
    head, _, number = name.rpartition("_")
    return head if number.isdecimal() else name
