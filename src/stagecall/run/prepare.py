"""Making a run ready: documents found and resolved, in a sensible order, before anything is called."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import msgspec

from stagecall.documents import Library, Loaded, resolve_monitor, resolve_sequence
from stagecall.errors import DocumentError, QuantityError, UsageError
from stagecall.model import plan
from stagecall.model.equipment import Equipment
from stagecall.model.event import Document, SourceBounds
from stagecall.model.fault import ANY, AppliedFault, Fault
from stagecall.model.kit import Kit
from stagecall.model.system import System
from stagecall.points import kind_of
from stagecall.record import document
from stagecall.run.bench import cannot_make
from stagecall.run.fitting import fitted_to
from stagecall.run.witness import cannot_witness
from stagecall.units import Range, parse_quantity, show_time


class Prepared(msgspec.Struct, frozen=True, kw_only=True):
    """All that a run follows and the log keeps; reusable from run to run."""

    system: System
    profiles: Mapping[str, Equipment]
    kit: Kit
    sequences: tuple[plan.Sequence, ...]
    monitors: tuple[plan.Monitor, ...]
    documents: tuple[Document, ...]
    faults: tuple[AppliedFault, ...] = ()
    fault_names: tuple[str, ...] = ()

    @property
    def challenges(self) -> bool:
        """Some step that will run calls the compressor early on purpose."""
        runs = (one for one in self.sequences if not (one.not_applicable or one.deferred))
        return any(step.challenge for one in runs for step in one.steps if not step.not_applicable)


def prepare(  # noqa: PLR0913 - each is a thing of its own
    library: Library,
    *,
    system: str,
    kit: str,
    sequences: Sequence[str] = (),
    faults: Sequence[str] = (),
    real: bool = False,
) -> Prepared:
    """Find and resolve what a run needs. With no *sequences* named: all of the library.

    The system's own must-run list comes first, in its order; what is named by the user or that list must run. *real*:
    it is made on a bench or on equipment, where not all can be set, and where the energy may be shut off.

    Raises:
        DocumentError: a document is wrong.
        NotInLibraryError: a name is unknown.
        UsageError: a fault cannot be read or does not fit.
    """
    system_file = library.load("system", system)
    installed: System = system_file.document
    profiles = library.profiles(installed)
    kit_file = library.load("kit", kit)
    applied = tuple(one for text in faults for one in _fitting(library, text, installed, profiles))

    wanted = tuple(dict.fromkeys(sequences)) or tuple(dict.fromkeys((*installed.must_run, *library.names("sequence"))))
    must = set(sequences) or set(installed.must_run)
    plans: list[plan.Sequence] = []
    loaded_plans: list[Document] = []
    for name in wanted:
        loaded = library.load("sequence", name)
        resolved = resolve_sequence(loaded, system_file, profiles, library, must_run=name in must)
        if not kit_file.document.makes_calls and not resolved.not_applicable and (why := cannot_witness(resolved)):
            resolved = msgspec.structs.replace(resolved, not_applicable=why, must_run=name in sequences)
        board = kit_file.document.board
        if board and board.calls and not resolved.not_applicable and (why := cannot_make(resolved, board)):
            resolved = msgspec.structs.replace(resolved, not_applicable=why)
        plans.append(resolved := fitted_to(resolved, installed) if real else resolved)
        loaded_plans.append(_document("sequence", loaded, resolved))
    mandatory = {monitor for sequence in plans if not sequence.not_applicable for monitor in sequence.monitors}
    monitors: list[plan.Monitor] = []
    for name in library.names("monitor"):
        written = library.load("monitor", name)
        monitor = resolve_monitor(written, system_file, profiles, library)
        must_run = name in mandatory and not monitor.not_applicable
        monitor = msgspec.structs.replace(monitor, must_run=must_run)
        monitors.append(monitor)
        loaded_plans.append(_document("monitor", written, monitor))

    documents = [
        _document("system", system_file, installed),
        _document("kit", kit_file, kit_file.document),
        *(_document("equipment", library.load("equipment", name), profile) for name, profile in profiles.items()),
        *(
            _document("fault", library.load("fault", name), fault)
            for name, fault in {applied_one.fault.fault: applied_one.fault for applied_one in applied}.items()
        ),
        *loaded_plans,
    ]
    return Prepared(
        system=installed,
        profiles=profiles,
        kit=kit_file.document,
        sequences=tuple(plans),
        monitors=tuple(monitors),
        documents=tuple(documents),
        faults=applied,
        fault_names=tuple(faults),
    )


def _document(kind: Any, loaded: Loaded[Any], typed: msgspec.Struct) -> Document:
    return document(kind=kind, name=_name(typed), raw=loaded.raw, typed=typed)


def _name(typed: Any) -> str:
    name: str = getattr(typed, "name", None) or getattr(typed, type(typed).__name__.lower())
    return name


def _fitting(
    library: Library, text: str, installed: System, profiles: Mapping[str, Equipment]
) -> tuple[AppliedFault, ...]:
    """The faults of one option; of a file of the user's, all that does not fit the system has its place there."""
    applied = parse_fault(library, text)
    name = text.partition("=")[0].partition("@")[0]
    if name in library.names("fault"):
        return applied
    from stagecall.plant.befalling import misfits  # noqa: PLC0415 - the plant is imported when first needed
    from stagecall.plant.blueprint import Blueprint  # noqa: PLC0415 - the plant is imported when first needed

    loaded = library.load("fault", name)
    own = next((one for one in applied if one.fault is loaded.document), None)  # not where others come together
    wrong = [] if own is None else list(misfits(own, Blueprint(installed, profiles)))
    if own is not None and own.target != own.fault.target and wrong[:1] and wrong[0][0] == ("target",):
        raise UsageError(wrong[0][1])
    if wrong:
        raise DocumentError([loaded.complain(path, why) for path, why in wrong])
    return applied


def parse_fault(library: Library, text: str) -> tuple[AppliedFault, ...]:
    """Read ``NAME[@TARGET][=SEVERITY]``; more than one where several come together.

    Raises:
        UsageError: no target where the fault has none of its own; a severity where the fault has none, of the wrong
            kind, or outside its range.
        NotInLibraryError: no such fault.
    """
    head, _, severity_text = text.partition("=")
    name, _, target = head.partition("@")
    loaded = library.load("fault", name)
    fault: Fault = loaded.document
    library.lend("fault", fault.fault, loaded)  # a file of the user's is known by its name from now on
    if fault.together:
        if target or severity_text:
            raise UsageError(f"'{name}' is {' and '.join(fault.together)} together: give these a target or severity")
        return tuple(one for other in fault.together for one in parse_fault(library, other))
    if fault.target == ANY and not target:
        raise UsageError(f"fault '{name}' can sit anywhere: say where, as {name}@TARGET")
    severity = None
    if severity_text:
        if fault.severity is None:
            raise UsageError(f"fault '{name}' has no severity: it is there or it is not")
        try:
            severity = parse_quantity(severity_text)
        except QuantityError as error:
            raise UsageError(f"the severity of '{name}' lies in {fault.severity.range}; {error}") from None
        if severity.unit != fault.severity.range.unit:
            raise UsageError(f"the severity of '{name}' is given as {fault.severity.range}, not {severity}")
        limit = Range(fault.severity.range.low, fault.severity.range.high)
        if severity.number not in limit:
            raise UsageError(f"the severity of '{name}' lies in {fault.severity.range}; {severity} does not")
    return (AppliedFault(fault=fault, target=target or fault.target, severity=severity),)


def surroundings(sequence: plan.Sequence, installed: System) -> dict[str, float]:
    """What the model's surroundings are set to for a sequence, in SI (temperatures in °C).

    The system's own where the sequence's conditions allow it, else the nearest that they allow.
    """
    chosen = {name: value.to(kind_of(name)) for name, value in installed.surroundings.items()}
    for name, limit in sequence.conditions.items():
        value = chosen.get(name)
        if value is None:
            low = limit.low if limit.low is not None else limit.high
            high = limit.high if limit.high is not None else limit.low
            chosen[name] = ((low or 0.0) + (high or 0.0)) / 2
        elif limit.low is not None and value < limit.low:
            chosen[name] = limit.low
        elif limit.high is not None and value > limit.high:
            chosen[name] = limit.high
    return chosen


def unseen_time(step: plan.Step, source: SourceBounds) -> int:
    """How long a step goes on for answers that this source cannot see, ms from its begin.

    They are given their whole windows, so that no later step accuses what was only not waited for.
    """
    first = then = 0
    for form in step.expect:
        if isinstance(form, plan.Turns) and not form.not_applicable and form.turns.point not in source.points:
            high = int(form.within.range.high or 0)
            if form.since.kind == "point":
                then = max(then, high)
            else:
                first = max(first, high)
    return first + then


def undecidable(sequences: Sequence[plan.Sequence], source: SourceBounds) -> list[str]:
    """Limits narrower than the source can resolve, each as a sentence: what they judge will be too close to call."""
    told = []
    for sequence in sequences:
        for step in sequence.steps:
            for form in step.expect:
                if isinstance(form, plan.Turns) and (blur := _blur(form, source)) is not None:
                    limit = form.within.range
                    room = None if limit.high is None else limit.high - (limit.low or 0)
                    if room is not None and blur > room:
                        told.append(
                            f"{sequence.name}: '{form.text}' cannot be decided here: the times are known to "
                            f"{show_time(blur)}, the limit leaves {show_time(room)}"
                        )
    return told


def _blur(form: plan.Turns, source: SourceBounds) -> int | None:
    """How far the interval between anchor and response can be uncertain, ms; None where the point cannot be seen."""
    seen = source.points.get(form.turns.point)
    anchor = form.each or form.since
    if seen is None:
        return None
    if anchor.kind != "point":
        return seen.width + source.call_width
    other = source.points.get(anchor.name)
    return None if other is None else seen.width + other.width
