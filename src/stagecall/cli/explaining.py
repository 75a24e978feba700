"""``stagecall explain``: a sequence, monitor, fault or machine in plain sentences."""

from __future__ import annotations

import re
import sys
from collections.abc import Iterable, Iterator, Mapping, Sequence

from stagecall.cli import describing
from stagecall.cli.saying import tell
from stagecall.documents import Kind, Library, Loaded, missing, resolve_monitor, resolve_sequence
from stagecall.errors import ExitCode, NotInLibraryError, UsageError
from stagecall.model import plan
from stagecall.model import sequence as written
from stagecall.model.equipment import Equipment
from stagecall.model.system import System
from stagecall.report.page import Page
from stagecall.run.takes import takes
from stagecall.units import show, show_range, show_time

Sentence = tuple[int, str]
"""How far it is indented, and the words."""
Limits = Mapping[str, written.Limit]
"""As they stand in a file."""


def explain(name: str, system: str | None) -> int:
    """Print what a sequence or monitor does and why, what a fault is, or what a machine is made of.

    Raises:
        NotInLibraryError: nothing is called so.
        UsageError: it is a system.
        DocumentError: the file, or the system's, is wrong.
    """
    library = Library()
    if name in library.names("system"):
        raise UsageError(f"{name} is a system; 'stagecall list --system {name}' says which sequences run on it")
    installed = library.load("system", system) if system else None
    profiles = library.profiles(installed.document) if installed else {}
    page = Page(sys.stdout)
    for indent, sentence in _explained(name, library, installed, profiles):
        if sentence:
            page.paragraph(sentence, indent=indent)
        else:
            page.blank()
    tell(page.text())
    return ExitCode.PASSED


def _explained(
    name: str, library: Library, installed: Loaded[System] | None, profiles: Mapping[str, Equipment]
) -> Iterator[Sentence]:
    shelf = _shelf(name, library)
    if shelf == "fault":
        yield from describing.fault_sentences(name, library)
        return
    if shelf == "equipment":
        yield from describing.equipment_sentences(name, library)
        return
    where = f"On system {installed.document.system}." if installed else _BY_ITSELF
    if shelf == "monitor":
        monitor = library.load("monitor", name)
        yield from _monitor(resolve_monitor(monitor, installed, profiles, library), monitor.document, where)
    else:
        sequence = library.load("sequence", name)
        steps = list(_written_steps(sequence.document, library))
        yield from _sequence(resolve_sequence(sequence, installed, profiles, library), sequence.document, steps, where)


def _written_steps(document: written.Sequence, library: Library) -> Iterator[tuple[written.Step, Limits]]:
    """The steps as they stand in the files, those of blocks put in, each with the limits of its own file."""
    for step in document.steps:
        if isinstance(step, written.Step):
            yield step, document.limits
        else:
            block = library.load("block", step.use).document
            yield from ((inner, block.limits) for inner in block.steps)


_SHELVES: tuple[Kind, ...] = ("sequence", "monitor", "fault", "equipment")
_NOT_EXPLAINED: tuple[Kind, ...] = ("kit", "map", "block")


def _shelf(name: str, library: Library) -> Kind:
    """Where a name stands, what runs first; of a file, what its first key says."""
    for shelf in _SHELVES:
        if name in library.names(shelf):
            return shelf
    for other in _NOT_EXPLAINED:
        if name in library.names(other):
            raise UsageError(f"{name} is a {other}; sequences, monitors, faults and machines are explained")
    try:
        path = library.find("sequence", name)
    except NotInLibraryError:
        every = [one for shelf in _SHELVES for one in library.names(shelf)]
        raise NotInLibraryError(f"nothing is called '{name}'; {missing(name, every)}") from None
    text = path.read_text("utf-8", "replace") if path.is_file() else ""
    first = re.search(r"^(\w+):", text, re.MULTILINE)
    return next((shelf for shelf in _SHELVES if first is not None and first[1] == shelf), "sequence")


_BY_ITSELF = (
    "By itself: every part is taken to be there, and each limit is at its default. --system resolves it for one."
)


def _sequence(
    sequence: plan.Sequence, document: written.Sequence, steps: Sequence[tuple[written.Step, Limits]], where: str
) -> Iterator[Sentence]:
    yield 0, f"{sequence.name}: {sequence.title}"
    yield 0, sequence.purpose
    yield 0, where
    if sequence.not_applicable:
        yield 0, f"Not applicable here: {sequence.not_applicable}."
    else:
        yield 0, f"It {takes(sequence)}."
    yield 0, ""
    yield from _needs(document.needs)
    if sequence.conditions:
        asked = ", ".join(
            f"{_said(point)} {show_range(span, 'temperature')}" for point, span in sequence.conditions.items()
        )
        yield 0, f"Outside these conditions the result would mean nothing: {asked}."
    if sequence.starts:
        yield 0, f"It begins with {_and(str(condition) for condition in sequence.starts)}."
    if sequence.monitors:
        yield 0, f"Monitors that must watch it: {', '.join(sequence.monitors)}."
    if sequence.clears:
        yield 0, f"Afterwards a person resets {_said(sequence.clears)}; on the model the model does."
    if sequence.caution:
        yield 0, f"CAUTION: {sequence.caution}"
    for number, (step, (source, limits)) in enumerate(zip(sequence.steps, steps, strict=True), 1):
        yield 0, ""
        yield from _step(number, step, source, limits)
    forms = [form for step in sequence.steps for form in step.expect]
    yield from _other_limits(sequence.limits, forms, document.limits)


def _monitor(monitor: plan.Monitor, document: written.Monitor, where: str) -> Iterator[Sentence]:
    yield 0, f"{monitor.name}: {monitor.title}"
    yield 0, monitor.purpose
    yield 0, where
    if monitor.not_applicable:
        yield 0, f"Not applicable here: {monitor.not_applicable}."
    yield 0, ""
    yield from _needs(document.needs)
    yield 0, "It makes no calls and judges whatever happens."
    yield from _expectations(monitor.expect, document.expect, document.limits)
    yield from _other_limits(monitor.limits, monitor.expect, document.limits)


def _needs(needs: written.Needs) -> Iterator[Sentence]:
    asked = [f"calls {_and(needs.calls)}"] if needs.calls else []
    asked += [f"{_and(map(_said, needs.points))} to be there"] if needs.points else []
    asked += [f"{_and(map(_said, needs.switches))} that can be opened"] if needs.switches else []
    asked += [f"equipment of the kind {_and(map(_said, needs.equipment))}"] if needs.equipment else []
    if asked:
        yield 0, f"It needs {'; '.join(asked)}."


def _step(number: int, step: plan.Step, source: written.Step, limits: Limits) -> Iterator[Sentence]:
    yield 0, f"{number}. {step.title}"
    if step.because:
        yield 3, f"because: {step.because}"
    if step.not_applicable:
        yield 3, f"Left out here: {step.not_applicable}."
        return
    yield 3, f"{_does(step)} {_lasts(step)}"
    yield from _expectations(step.expect, source.expect, limits, indent=3)


def _does(step: plan.Step) -> str:
    said = [f"Calls {_and(step.calls)}" if step.calls else "Makes no call"]
    if step.challenge:
        said.append("earlier than the minimum off allows, on purpose")
    if step.power:
        said.append(f"switches the control power {step.power}")
    if step.open_switch:
        said.append(f"opens the {_said(step.open_switch)}")
    if step.restore:
        said.append(f"restores the {_said(step.restore)}")
    if step.press:
        said.append(f"joins the pins of the {_said(step.press)} as the board's label says")
    said += [f"sets {_said(point)} to {show(value, 'temperature')}" for point, value in step.set.items()]
    if step.read:
        said.append(f"reads {_and(map(_said, step.read))}")
    return f"{', '.join(said)}."


def _lasts(step: plan.Step) -> str:
    if step.lasts is not None:
        said = f"Lasts {show_time(step.lasts)}"
    elif step.until is not None:
        said = f"Lasts until {step.until}, which later steps rely on"
    else:
        said = "Lasts until every expectation has settled"
    return f"{said}, and {show_time(step.keep)} more." if step.keep else f"{said}."


def _expectations(
    forms: Sequence[plan.Form], sources: Sequence[written.Form], limits: Limits, indent: int = 0
) -> Iterator[Sentence]:
    for form, source in zip(forms, sources, strict=True):
        yield indent, f"- Expected: {form.text}."
        if form.not_applicable:
            yield indent + 2, f"Not applicable here: {form.not_applicable}."
            continue
        if source.because:
            yield indent + 2, f"because: {source.because}"
        for limit in _limits(form):
            yield indent + 2, _pedigree(limit, limits.get(limit.name))
        if isinstance(form, plan.Turns) and form.usual is not None:
            yield indent + 2, f"Usual: {show_range(form.usual, 'time')}."


def _limits(form: plan.Form) -> tuple[plan.ResolvedLimit, ...]:
    match form:
        case plan.Turns():
            return (form.within,)
        case plan.Reads():
            return (form.limit,)
        case plan.Times():
            return (form.count,)
        case plan.Order():
            return tuple(gap for gap in form.gaps if gap is not None)
    return ()


def _other_limits(
    limits: Mapping[str, plan.ResolvedLimit], forms: Iterable[plan.Form], own: Limits
) -> Iterator[Sentence]:
    """Those that no expectation carries by name any more, such as how long something stays."""
    told = {limit for form in forms for limit in _limits(form)}
    if rest := [limit for limit in limits.values() if limit not in told]:
        yield 0, ""
        yield 0, "Limits of what stays, and for how long:"
        for limit in rest:
            yield 2, _pedigree(limit, own.get(limit.name))


def _pedigree(limit: plan.ResolvedLimit, own: written.Limit | None) -> str:
    """Where a limit came from, and what would move it."""
    if limit.origin == "written here":
        return f"Limit {show_range(limit.range, limit.kind)}, written here."
    said = f"Limit {limit.name}: {show_range(limit.range, limit.kind)}, {_ORIGINS[limit.origin]}"
    said += f", {limit.note} (clipped)" if limit.note else ""
    said += f"; source: {limit.source}." if limit.source else "."
    if own is not None and own.maker_data and limit.origin == "default":
        hard = [f"never below {own.never_below}"] if own.never_below else []
        hard += [f"never above {own.never_above}"] if own.never_above else []
        bounds = f", {' and '.join(hard)}" if hard else ""
        said += f" The maker's {_said(own.maker_data)} would move it to that figure ± {own.allow}{bounds}."
    return said


_ORIGINS = {
    "default": "the default",
    "maker data": "from the maker's data for this system",
    "override": "set by the sequence for this block",
}


def _said(point: str) -> str:
    return point.replace("_", " ")


def _and(names: Iterable[str]) -> str:
    *most, last = names
    return f"{', '.join(most)} and {last}" if most else last
