"""Where on a system a fault can sit, and which faults come to the same there."""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Iterator, Sequence

import msgspec

from stagecall.errors import UsageError
from stagecall.model.fault import ANY, AppliedFault, Fault
from stagecall.plant.blueprint import Blueprint, fault_values, fitting_value
from stagecall.plant.kinds import KINDS
from stagecall.plant.loose import is_loose
from stagecall.plant.parameters import unknown


def targets(fault: Fault, blueprint: Blueprint) -> tuple[str, ...]:
    """Every place of the system that this one fault can befall; none for faults that come together."""
    if fault.jumper is not None:
        return (fault.target,) if blueprint.has_screws(fault.target, fault.jumper) else ()
    if fault.wire is not None:
        names = [conductor.name for conductor in blueprint.system.conductors]
        return tuple(name for name in names if fault.target in (ANY, name))
    kind = KINDS.get(fault.part_kind or "")
    own = fault.target.rpartition(".")[2]
    return tuple(
        fitting.name
        for fitting in blueprint.fittings.values()
        if kind is not None
        and issubclass(fitting.kind, kind)
        and (fault.target == ANY or fitting.name.rpartition(".")[2] == own)
    )


def misfit(applied: AppliedFault, blueprint: Blueprint) -> tuple[tuple[str, ...], str] | None:
    """Where in a fault's document stands what does not fit this system, and what it is; None where all of it fits."""
    fault = applied.fault
    place: tuple[str, ...] = ("target",)
    try:
        if fault.in_wiring:
            blueprint.cabling((applied,))
            return None
        fitting = blueprint.fitting(applied.target)
        place = ("part_kind",)
        if fault.part_kind not in KINDS:
            raise unknown(fault.part_kind or "", KINDS, "the model")
        fault_values(fitting, AppliedFault(fault=msgspec.structs.replace(fault, change={}, severity=None), target=""))
        for name, value in fault.change.items():
            place = ("change", name)
            fitting_value(fitting, name, value)
        if fault.severity is not None:
            place = ("severity", "of")
            fitting_value(fitting, fault.severity.of, fault.severity.typical)
    except UsageError as error:
        return place, str(error)
    return None


def distinct(faults: Iterable[AppliedFault], blueprint: Blueprint) -> Iterator[AppliedFault]:
    """Those that change something, each change once: of two that come to the same the first is kept."""
    seen: set[Hashable] = {_network(blueprint, ())}
    for applied in faults:
        try:
            effect = _effect(applied, blueprint)
        except UsageError:  # such a conductor has no neighbour, such a part lacks the parameter
            continue
        if effect is not None and effect not in seen:
            seen.add(effect)
            yield applied


def _effect(applied: AppliedFault, blueprint: Blueprint) -> Hashable | None:
    if is_loose(applied):
        return applied.target, "loose"
    if applied.fault.in_wiring:
        return _network(blueprint, (applied,))
    typical = blueprint.typical[applied.target]
    changed = {
        name: value
        for name, value in fault_values(blueprint.fitting(applied.target), applied).items()
        if value != getattr(typical, name)
    }
    return (applied.target, frozenset(changed.items())) if changed else None


def _network(blueprint: Blueprint, faults: Sequence[AppliedFault]) -> Hashable:
    """The conductors whatever their names and whichever way they run."""
    return frozenset(
        (type(one), frozenset((one.a, one.b)), msgspec.structs.replace(one, name="", a="", b=""))
        for one in blueprint.cabling(faults).elements()
        if one.a != one.b
    )
