"""``stagecall explain`` of a fault and of a machine: what somebody must know who writes a fault of their own."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import msgspec

from stagecall.documents import Library
from stagecall.model.equipment import Parameter, Part
from stagecall.model.fault import ANY, Fault
from stagecall.plant.kinds import KINDS
from stagecall.plant.parameters import Declared, declared
from stagecall.points import with_article
from stagecall.units import show

Sentence = tuple[int, str]
"""How far it is indented, and the words."""


def fault_sentences(name: str, library: Library) -> Iterator[Sentence]:
    """What a fault shows and teaches, where it sits, what it changes, and what must catch it."""
    fault = library.load("fault", name).document
    yield 0, f"{fault.fault}: {fault.title}"
    yield 0, f"Shows: {fault.shows}"
    yield 0, f"Teaches: {fault.teaches}"
    yield 0, ""
    yield 0, _what(fault)
    called = fault.fault if fault.fault in library.names("fault") else name
    asked = called if fault.target != ANY or fault.together else f"{called}@TARGET"
    yield 0, f"Put it into the model with --fault {asked}."
    if (severity := fault.severity) is not None:
        yield 0, f"Severity: {severity.of}, {severity.typical} unless --fault {asked}=… says other, {severity.range}."
    for caught in fault.caught_by:
        at = f" at {caught.at}" if caught.at else ""
        by = ", ".join((*caught.sequences, *caught.monitors))
        said = f"caught by {by}" if by else f"unseen: {caught.unseen}"
        yield 0, f"On {caught.system}{at} with kit {caught.kit}: {said}."


def _what(fault: Fault) -> str:
    if fault.together:
        return f"It is {' and '.join(fault.together)} together."
    where = "anywhere" if fault.target == ANY else f"at {fault.target}"
    if fault.wire is not None:
        return f"It befalls a conductor, {where}: {fault.wire.replace('_', ' ')}."
    if fault.jumper is not None:
        return f"It is a jumper from {fault.target} to {fault.jumper}."
    changed = ", ".join(f"{name} {value}" for name, value in fault.change.items())
    if fault.target == fault.part_kind:
        return f"It befalls the {fault.target}: {changed}."
    return f"It befalls {with_article(fault.part_kind or '')}, {where}" + (f": {changed}." if changed else ".")


def equipment_sentences(name: str, library: Library) -> Iterator[Sentence]:
    """A machine's parts, their kinds, and what of each a setting or a fault may change."""
    profile = library.load("equipment", name).document
    yield 0, f"{profile.equipment}: {profile.title}"
    called: dict[str, list[str]] = {}
    for system in library.names("system"):
        for machine, installed in library.load("system", system).document.equipment.items():
            if installed.profile == profile.equipment:
                called.setdefault(machine, []).append(system)
    for machine, systems in called.items():
        yield 0, f"Called {machine} on {', '.join(systems)}."
    yield 0, f"Terminals: {', '.join(profile.terminals)}."
    if profile.notes:
        yield 0, profile.notes
    yield 0, ""
    yield 0, "Its parts, each with its kind, and what of it a fault or a system's settings may change:"
    for part_name, part in profile.parts.items():
        yield 0, f"{part_name} ({part.kind})"
        yield from _parameters(part)


def _parameters(part: Part) -> Iterator[Sentence]:
    kind = KINDS[part.kind]
    defaults = {field.name: field.default for field in msgspec.structs.fields(kind.takes)}
    for name, takes in declared(kind.takes).items():
        given = part.parameters.get(name)
        usual = _given(given) if given is not None else _default(defaults[name], takes)
        words = f", one of {', '.join(takes.words)}" if takes.words else ""
        yield 2, f"{name}: {usual}{words}"


def _given(parameter: Parameter) -> str:
    seen = parameter.range
    if seen is None:
        return str(parameter.typical)
    return f"{parameter.typical}; {' or '.join(seen) if isinstance(seen, tuple) else seen} seen"


def _default(value: Any, takes: Declared) -> str:
    if takes.kind is None:
        return str(value)
    return f"{value:g} ohm" if takes.kind == "ohms" else show(value, takes.kind)
