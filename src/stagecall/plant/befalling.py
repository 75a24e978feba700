"""Where on a system a fault can sit, and which faults come to the same there."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable, Iterator, Sequence
from functools import partial

import msgspec

from stagecall.errors import UsageError
from stagecall.model.fault import ANY, AppliedFault, Fault
from stagecall.plant.blueprint import Blueprint, fault_values, fitting_value
from stagecall.plant.kinds import KINDS
from stagecall.plant.loose import is_loose


def targets(fault: Fault, blueprint: Blueprint) -> tuple[str, ...]:
    """Every place of the system that this one fault can befall; none for faults that come together."""
    if fault.jumper is not None:
        return (fault.target,) if blueprint.has_screws(fault.target, fault.jumper) else ()
    if fault.wire is not None:
        names = [conductor.name for conductor in blueprint.system.conductors]
        return tuple(name for name in names if fault.target in (ANY, name))
    if fault.target in blueprint.site:
        return (fault.target,)
    kind = KINDS.get(fault.part_kind or "")
    own = fault.target.rpartition(".")[2]
    return tuple(
        fitting.name
        for fitting in blueprint.fittings.values()
        if kind is not None
        and issubclass(fitting.kind, kind)
        and (fault.target == ANY or fitting.name.rpartition(".")[2] == own)
    )


def misfits(applied: AppliedFault, blueprint: Blueprint) -> Iterator[tuple[tuple[str, ...], str]]:
    """All that does not fit this system: where it stands in the fault's document, and what is wrong with it."""
    fault = applied.fault
    looks: list[tuple[tuple[str, ...], Callable[[], object]]]
    if fault.in_wiring:
        looks = [(("target",), lambda: blueprint.cabling((applied,)))]
    elif applied.target not in blueprint.fittings:
        looks = [(("target",), lambda: blueprint.fitting(applied.target))]
    else:
        fitting = blueprint.fitting(applied.target)
        settings = {("change", name): (name, value) for name, value in fault.change.items()}
        if fault.severity is not None:
            settings["severity", "of"] = (fault.severity.of, fault.severity.typical)
        bare = AppliedFault(fault=msgspec.structs.replace(fault, change={}, severity=None), target=applied.target)
        looks = [(("part_kind",), lambda: fault_values(fitting, bare))]
        looks += [(place, partial(fitting_value, fitting, *setting)) for place, setting in settings.items()]
    for place, look in looks:
        try:
            look()
        except UsageError as error:
            yield place, str(error)


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
    if applied.target in blueprint.site:
        _, site = blueprint.parameters(seed=0, drawn=False, settings={}, faults=(applied,))
        befallen = site[applied.target]
        return None if befallen == blueprint.site[applied.target] else (applied.target, befallen)
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
