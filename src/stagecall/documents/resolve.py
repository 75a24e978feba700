"""A sequence or monitor made ready for one system: what the run follows and the judge reads from the log."""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping
from typing import Any

from stagecall import points
from stagecall.documents.forms import Forms
from stagecall.documents.installation import Installation
from stagecall.documents.library import Library
from stagecall.documents.limits import Limits
from stagecall.documents.loaded import Loaded
from stagecall.documents.modes import called, contradictions, lacks_convention, worded
from stagecall.documents.walk import Path
from stagecall.documents.words import unknown
from stagecall.errors import Complaint, DocumentError, NotInLibraryError
from stagecall.model import plan
from stagecall.model import sequence as written
from stagecall.model.equipment import Equipment
from stagecall.model.system import System
from stagecall.units import Range, show, show_range, show_time


class _File:
    """A file whose steps are being put in: a sequence, or a block under the overrides of its use."""

    def __init__(self, loaded: Loaded[Any], limits: Limits, installation: Installation | None) -> None:
        self.loaded = loaded
        self.limits = limits
        self.forms = Forms(limits, installation)


class _Resolver:
    def __init__(self, system: Loaded[System] | None, here: Installation | None, library: Library) -> None:
        self.system = system
        self.library = library
        self.here = here
        self.complaints: list[Complaint] = []
        self.calls: tuple[str, ...] = ()
        self.unanswered = ""
        self.valves = False
        self.slugs: set[str] = set()
        self.limits: dict[str, plan.ResolvedLimit] = {}

    def file(self, loaded: Loaded[Any], overrides: dict[str, Any] | None = None) -> _File:
        return _File(loaded, Limits(loaded.document.limits, self.system, overrides), self.here)

    def close(self, file: _File, prefix: str = "") -> None:
        """Take over what the file's limits became, and what was wrong with them."""
        self.complaints += file.limits.complaints
        self.limits |= {prefix + name: limit for name, limit in file.limits.resolved.items()}

    def done(self) -> None:
        if self.complaints:
            unique = {str(complaint): complaint for complaint in self.complaints}
            raise DocumentError(sorted(unique.values(), key=lambda one: (one.file, one.line, one.column)))

    def steps(self, loaded: Loaded[written.Sequence]) -> tuple[plan.Step, ...]:
        own = self.file(loaded)
        made: list[plan.Step] = []
        for index, step in enumerate(loaded.document.steps):
            if isinstance(step, written.Step):
                made.append(self.step(step, own, ("steps", index)))
            else:
                made += self.block(step, own, ("steps", index))
        self.close(own)
        return tuple(made)

    def block(self, use: written.Use, own: _File, at: Path) -> list[plan.Step]:
        try:
            block = self.library.load("block", use.use)
        except NotInLibraryError as error:
            self.complaints.append(own.loaded.complain((*at, "use"), str(error)))
            return []
        for name in use.limits:
            if name not in block.document.limits:
                text = unknown(name, f"a limit of the block '{use.use}'", block.document.limits)
                self.complaints.append(own.loaded.complain((*at, "limits", name), text))
        file = self.file(block, use.limits)
        made = [self.step(step, file, ("steps", index)) for index, step in enumerate(block.document.steps)]
        for name, text in file.limits.wrong_overrides:
            self.complaints.append(own.loaded.complain((*at, "limits", name), text))
        self.close(file, f"{use.use}.")
        return made

    def step(self, step: written.Step, file: _File, at: Path) -> plan.Step:
        self.calls = self._calls(step, file, at)
        slug = self._slug(step.step)
        expect = tuple(
            file.forms.resolve(form, f"{slug}.{ordinal}") for ordinal, form in enumerate(step.expect, start=1)
        )
        keep = 0 if step.keep is None else round(step.keep.to("time"))
        lasts = None if step.lasts.time is None else round(step.lasts.time.to("time"))
        made = plan.Step(
            slug=slug,
            title=step.step,
            because=step.because or "",
            calls=self.calls,
            lasts=lasts,
            until=step.lasts.until,
            keep=keep,
            challenge=step.challenge,
            control=step.control,
            open_switch=step.open_switch,
            restore=step.restore,
            press=step.press,
            power=step.power,
            set={name: value.to(_kind(name)) for name, value in step.set.items()},
            read=step.read,
            expect=expect,
            not_applicable=self._lacking(step),
        )
        if lasts is not None:
            for index, form in enumerate(expect):
                if text := _outlives(form, made, lasts + keep):
                    self.complaints.append(file.loaded.complain((*at, "expect", index), text))
        return made

    def _calls(self, step: written.Step, file: _File, at: Path) -> tuple[str, ...]:
        """The complete set of calls: the step's own, else that of the step before, else none."""
        if step.call is None and step.valve is None and not step.aux and not step.emergency:
            return self.calls
        self.valves |= step.valve is not None
        for key, text in contradictions(step):
            self.complaints.append(file.loaded.complain((*at, key), text))
        modes, self.unanswered = worded(step), ""
        if self.system is not None:
            modes, self.unanswered = called(step, self.system.document.control)
        return tuple(dict.fromkeys((*(step.call or ()), *modes)))

    def _slug(self, title: str) -> str:
        plain = re.sub(r"[^a-z0-9]+", "-", title.lower()).strip("-") or "step"
        slug, count = plain, 1
        while slug in self.slugs:
            count += 1
            slug = f"{plain}-{count}"
        self.slugs.add(slug)
        return slug

    def _lacking(self, step: written.Step) -> str:
        if self.here is None:
            return ""
        switches = [name for name in (step.open_switch, step.restore) if name is not None]
        awaited = () if step.lasts.until is None else (step.lasts.until.point,)
        return (
            self.unanswered
            or self.here.lacks_tests(() if step.press is None else (step.press,))
            or self.here.lacks_calls(self.calls)
            or self.here.lacks_switches(switches)
            or self.here.lacks_points(awaited)
        )


def _kind(point: str) -> Any:
    known = points.point(point)
    return None if known is None else known.quantity


def _outlives(form: plan.Form, step: plan.Step, length: int) -> str:
    """Why the expectation cannot be judged within a step of fixed *length*, ms; empty where that is not provable."""
    match form:
        case plan.Turns() | plan.Stays() if form.each is None and _is_begin(form.since, step):
            if isinstance(form, plan.Turns):
                end, what = form.within.range.high, "its window"
            else:
                end, what = None if form.length is None else form.begin + form.length, "the watch"
        case plan.Reads() if isinstance(form.at, int):
            end, what = form.at, "the reading"
        case _:
            return ""
    if end is None or end <= length:
        return ""
    return f"{what} ends {show_time(end)} after the step's begin, but the step lasts {show_time(length)}"


def _is_begin(anchor: written.Anchor, step: plan.Step) -> bool:
    """Whether the anchor is surely not before the step's begin."""
    return anchor.kind == "step" or (anchor.kind == "power" and step.power == anchor.state)


def _deferred(conditions: dict[str, Range], surroundings: Mapping[str, float]) -> str:
    """The conditions that are known not to hold."""
    missed = []
    for name, span in conditions.items():
        if name in surroundings and surroundings[name] not in span:
            kind = _kind(name)
            now = show(surroundings[name], kind)
            missed.append(f"{name.replace('_', ' ')} {show_range(span, kind)} (now {now})")
    return "needs " + ", ".join(missed) if missed else ""


def resolve_sequence(  # noqa: PLR0913 - each argument is a thing of its own that the caller has
    loaded: Loaded[written.Sequence],
    system: Loaded[System] | None,
    profiles: Mapping[str, Equipment],
    library: Library,
    *,
    must_run: bool = False,
    surroundings: Mapping[str, float] | None = None,
) -> plan.Sequence:
    """Make a sequence ready for a system.

    *system* None takes everything to be there and every limit at its default (to explain a sequence by itself).
    *profiles* holds the system's equipment by the profile's name. *surroundings* are known values (SI) against which
    ``conditions`` are checked; what is not named there is not checked.

    Raises:
        DocumentError: a block is unknown, a limit is overridden or moved wrongly, a window outlives its step.
    """
    document = loaded.document
    here = None if system is None else Installation.of(system.document, profiles)
    resolver = _Resolver(system, here, library)
    steps = resolver.steps(loaded)
    for index, name in enumerate(document.monitors):
        if name not in library.names("monitor"):
            text = unknown(name, "a monitor of the library", library.names("monitor"))
            resolver.complaints.append(loaded.complain(("monitors", index), text))
    resolver.done()
    conditions = {name: span.to(_kind(name)) for name, span in document.conditions.items()}
    lacking = "" if here is None else here.lacks(document.needs)
    if not lacking and resolver.valves and system is not None:
        lacking = lacks_convention(system.document.control)
    if not lacking and all(step.not_applicable for step in steps):
        lacking = steps[0].not_applicable
    return plan.Sequence(
        name=document.sequence,
        title=document.title,
        purpose=document.purpose,
        group=document.group,
        needs=document.needs,
        conditions=conditions,
        limits=resolver.limits,
        starts=document.starts if here is None else tuple(one for one in document.starts if one.point in here.points),
        caution=document.caution or "",
        monitors=document.monitors,
        clears=document.clears or "",
        steps=steps,
        not_applicable=lacking,
        deferred="" if lacking else _deferred(conditions, surroundings or {}),
        must_run=must_run,
    )


def resolve_monitor(  # noqa: PLR0913 - as above
    loaded: Loaded[written.Monitor],
    system: Loaded[System] | None,
    profiles: Mapping[str, Equipment],
    library: Library,
    *,
    must_run: bool = False,
    seen: Collection[str] | None = None,
) -> plan.Monitor:
    """Make a monitor ready for a system; *system* None as in :func:`resolve_sequence`.

    *seen*, with *system* None: the points of a recording. What a recording does not hold can suspend nothing.

    Raises:
        DocumentError: the system's figures move a limit beyond its hard bounds.
    """
    document = loaded.document
    here = None if seen is None else Installation(seen)
    if system is not None:
        here = Installation.of(system.document, profiles)
    resolver = _Resolver(system, here, library)
    file = resolver.file(loaded)
    expect = tuple(
        file.forms.resolve(form, f"{document.monitor}.{ordinal}")
        for ordinal, form in enumerate(document.expect, start=1)
    )
    resolver.close(file)
    resolver.done()
    return plan.Monitor(
        name=document.monitor,
        title=document.title,
        purpose=document.purpose,
        limits=resolver.limits,
        expect=expect,
        not_applicable="" if here is None else here.lacks(document.needs),
        must_run=must_run,
    )
