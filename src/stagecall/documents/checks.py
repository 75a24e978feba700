"""What must agree within one file: limits named and used, anchors that make sense, steps that can end."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from typing import Any, Protocol

from stagecall import points
from stagecall.documents.benches import check_kit
from stagecall.documents.walk import Path, Places, mismeasured
from stagecall.documents.words import unknown
from stagecall.model.equipment import Equipment
from stagecall.model.fault import ANY, Fault
from stagecall.model.kit import Kit
from stagecall.model.sequence import (
    Ask,
    Block,
    Bound,
    Form,
    Limit,
    Monitor,
    Never,
    Order,
    Reads,
    Sequence,
    Stays,
    Step,
    Times,
    Turns,
    Use,
)
from stagecall.model.system import System
from stagecall.units import Kind, Quantity, Range, Spread

Complain = Callable[[Path, str], None]


class Check(Protocol):
    """A check of one kind of document. *whole* is False where parts of it are missing because they were wrong."""

    def __call__(self, document: Any, places: Places, *, whole: bool, complain: Complain) -> None:
        """Complain of what does not agree."""


def bounds(form: Form) -> Iterator[tuple[Path, Bound, Kind]]:
    """Every range of an expectation: where it stands in it, the range or the limit's name, what it measures."""
    match form:
        case Turns():
            named: list[tuple[Path, Bound | None, Kind]] = [
                (("within",), form.within, "time"),
                (("usual",), form.usual, "time"),
            ]
        case Stays():
            named = [
                (("for",), form.stays_for, "time"),
                (("from",), form.stays_from, "time"),
                (("tolerate",), form.tolerate, "time"),
            ]
        case Order():
            named = [(("gaps", index), gap, "time") for index, gap in enumerate(form.gaps)]
        case Never():
            named = [(("tolerate",), form.tolerate, "time")]
        case Reads():
            named = [(("reads", form.reads), form.range, quantity_of(form.reads))]
        case Times():
            named = [(("count",), form.count, "count"), (("per",), form.per, "time")]
        case Ask():
            named = []
    for path, bound, kind in named:
        if bound is not None:
            yield path, bound, kind


def quantity_of(name: str) -> Kind:
    """The kind of quantity of a point that is read."""
    known = points.point(name)
    return known.quantity if known is not None and known.quantity is not None else "count"


def _limits(
    limits: dict[str, Limit],
    forms: Iterable[tuple[Path, Form]],
    places: Places,
    *,
    whole: bool,
    complain: Complain,
) -> None:
    known = {str(path[1]) for path in places if len(path) == 2 and path[0] == "limits"}
    used: dict[str, Kind] = {}
    for at, form in forms:
        for path, bound, kind in bounds(form):
            if not isinstance(bound, str):
                continue
            if bound not in known:
                complain((*at, *path), unknown(bound, "a limit of this file", known))
            elif used.setdefault(bound, kind) != kind:
                complain((*at, *path), f"'{bound}' is a limit of another kind elsewhere in this file")
    for name, limit in limits.items():
        if name in used:
            _limit_kind(name, limit, used[name], complain)
        elif whole:
            complain(("limits", name), f"the limit '{name}' is not used")
        if limit.maker_data is None and limit.allow is not None:
            complain(("limits", name, "allow"), "'allow' belongs to 'maker_data', which is missing here")
        if limit.maker_data is not None and limit.allow is None:
            complain(("limits", name, "maker_data"), "'maker_data' needs 'allow' (such as allow: 10 %)")


def _limit_kind(name: str, limit: Limit, kind: Kind, complain: Complain) -> None:
    allow_kind: Kind = "difference" if kind == "temperature" else kind
    whole: list[tuple[str, Quantity | Spread | None, Kind]] = [
        ("default", limit.default, kind),
        ("never_below", limit.never_below, kind),
        ("never_above", limit.never_above, kind),
        ("allow", limit.allow if limit.allow is None or limit.allow.unit != "%" else None, allow_kind),
    ]
    right = True
    for key, value, wanted in whole:
        if value is not None and (wrong := mismeasured(value, wanted)):
            complain(("limits", name, key), wrong)
            right = False
    if not right:
        return
    span = limit.default.to(kind)
    if limit.never_below is not None and span.low is not None and span.low < limit.never_below.to(kind):
        complain(("limits", name, "default"), f"'{limit.default}' begins below 'never_below: {limit.never_below}'")
    if limit.never_above is not None and span.high is not None and span.high > limit.never_above.to(kind):
        complain(("limits", name, "default"), f"'{limit.default}' ends above 'never_above: {limit.never_above}'")


def _form(form: Form, at: Path, complain: Complain) -> None:
    if isinstance(form, Turns | Stays) and form.each is not None and form.since.kind != "step":
        complain((*at, "each"), "either 'since' or 'each', not both")
    if isinstance(form, Stays) and form.stays_for is not None and form.stays_until is not None:
        complain((*at, "until"), "either 'for' or 'until', not both")
    if isinstance(form, Order):
        if len(form.order) < 2:
            complain((*at, "order"), "an order has at least two edges")
        elif form.gaps and len(form.gaps) != len(form.order) - 1:
            complain((*at, "gaps"), f"{len(form.order)} edges have {len(form.order) - 1} gaps between them")
    if isinstance(form, Stays) and isinstance(form.stays_for, Spread) and form.stays_for.low is None:
        complain((*at, "for"), "'for' needs a lower end (such as 3 min or 3 min..)")


def _open_above(form: Turns, limits: dict[str, Limit]) -> bool:
    bound = form.within
    if isinstance(bound, str):
        return bound in limits and limits[bound].default.high is None
    return bound.high is None


def _step(step: Step, at: Path, limits: dict[str, Limit], *, whole: bool, complain: Complain) -> None:
    until = step.lasts.until
    if until is not None and whole:
        awaited = [form for form in step.expect if isinstance(form, Turns) and form.turns == until]
        if not awaited:
            text = f"nothing here expects {until}; add 'turns: {{{until.point}: {until.state}}}' with 'within'"
            complain((*at, "lasts"), text)
        elif all(_open_above(form, limits) for form in awaited):
            complain((*at, "lasts"), f"'within' of {until} has no upper end, so this step might never end")
    for index, form in enumerate(step.expect):
        here = (*at, "expect", index)
        _form(form, here, complain)
        bounded_step = step.lasts.time is not None or until is not None or step.keep is not None
        if isinstance(form, Turns) and form.each is None and not bounded_step and _open_above(form, limits):
            text = "no upper end, so the step would not wait for it; give it one, or the step a length (lasts: 5 min)"
            complain((*here, "within"), text)


def _steps(
    steps: tuple[Use | Step, ...], limits: dict[str, Limit], places: Places, *, whole: bool, complain: Complain
) -> None:
    forms: list[tuple[Path, Form]] = []
    for index, step in enumerate(steps):
        if isinstance(step, Step):
            _step(step, ("steps", index), limits, whole=whole, complain=complain)
            forms += [(("steps", index, "expect", place), form) for place, form in enumerate(step.expect)]
    if not steps and whole:
        complain(("steps",), "no step stands here")
    _limits(limits, forms, places, whole=whole, complain=complain)


def check_sequence(document: Sequence | Block, places: Places, *, whole: bool, complain: Complain) -> None:
    """A sequence or a step block."""
    _steps(document.steps, document.limits, places, whole=whole, complain=complain)


def check_monitor(document: Monitor, places: Places, *, whole: bool, complain: Complain) -> None:
    """A monitor: it has no steps to count from."""
    forms: list[tuple[Path, Form]] = [(("expect", index), form) for index, form in enumerate(document.expect)]
    for at, form in forms:
        _form(form, at, complain)
        if isinstance(form, Turns) and form.each is None:
            complain((*at, "turns"), "a monitor has no steps to count from; write 'each: {point: state}'")
        if isinstance(form, Stays) and form.each is None and (form.stays_for or form.since.kind != "step"):
            complain((*at, "stays"), "a monitor has no steps to count from; write 'each: {point: state}'")
        if isinstance(form, Reads) and form.at != "throughout":
            complain((*at, "reads"), "a monitor has no steps to count from; write 'at: throughout'")
        if isinstance(form, Ask):
            complain((*at, "ask"), "a monitor asks nobody")
    _limits(document.limits, forms, places, whole=whole, complain=complain)


def check_system(document: System, places: Places, *, whole: bool, complain: Complain) -> None:  # noqa: ARG001 - Check
    """A system: every conductor joins things that are there."""
    seen: set[str] = set()
    screws = {points.terminal(name) for name in document.control.terminals}
    for key in ("valve", "aux", "emergency"):
        named = getattr(document.control, key)
        for name in (named,) if isinstance(named, str) else named:
            if name != "unknown" and points.terminal(name) not in screws:
                complain(("control", key), unknown(name, "a terminal of this control", document.control.terminals))
    for index, conductor in enumerate(document.conductors):
        at = ("conductors", index)
        if conductor.name in seen:
            complain((*at, "name"), f"a conductor named '{conductor.name}' stands here twice")
        seen.add(conductor.name)
        for key, end in (("from", conductor.start), ("to", conductor.end)):
            device, _, screw = end.partition(".")
            if not screw:
                complain((*at, key), f"'{end}' is not a screw (such as control.Y1 or furnace.Y)")
            elif device == "control":
                if points.terminal(screw) not in screws:
                    complain((*at, key), unknown(screw, "a terminal of this control", document.control.terminals))
            elif device not in document.equipment and whole:
                complain((*at, key), unknown(device, "equipment of this system", ("control", *document.equipment)))


def check_equipment(document: Equipment, places: Places, *, whole: bool, complain: Complain) -> None:  # noqa: ARG001
    """A machine: wires, points and switches lead to its own screws and parts."""
    if not whole:
        return
    nodes: list[tuple[Path, str]] = [
        (("wiring", index, end), node) for index, pair in enumerate(document.wiring) for end, node in enumerate(pair)
    ]
    nodes += [
        (("points", point, sensed), node) for point, means in document.points.items() for sensed, node in means.items()
    ]
    nodes += [(("switches", name), part) for name, part in document.switches.items()]
    for at, node in nodes:
        part, dot, _ = node.partition(".")
        if part not in document.parts and (dot or node not in document.terminals):
            complain(at, unknown(part, "a part or a screw of this machine", (*document.parts, *document.terminals)))
    for call, loads in document.energises.items():
        for index, point in enumerate(loads):
            if point not in document.points:
                complain(("energises", call, index), unknown(point, "a point of this machine", document.points))


def check_fault(document: Fault, places: Places, *, whole: bool, complain: Complain) -> None:  # noqa: ARG001 - Check
    """A fault: of a part or of a conductor, and caught by something or explained."""
    kinds = (document.part_kind, document.wire, document.jumper, document.together or None)
    if sum(kind is not None for kind in kinds) != 1:
        complain(
            ("fault",), "a fault has 'part_kind' with 'change', or 'wire', or 'jumper', or others that come 'together'"
        )
    if document.part_kind is not None and not document.change and document.severity is None:
        complain(("part_kind",), "nothing is changed: a fault of a part has 'change', 'severity' or both")
    if (severity := document.severity) is not None:
        span = severity.range
        if severity.typical.unit != span.unit or severity.typical.number not in Range(span.low, span.high):
            complain(("severity", "typical"), f"'{severity.typical}' does not lie in 'range: {span}'")
    if document.jumper is not None and document.target == ANY:
        complain(("fault",), "a jumper lies between two screws: 'target' is the one, 'jumper' the other")
    for index, caught in enumerate(document.caught_by):
        if bool(caught.sequences or caught.monitors) == (caught.unseen is not None):
            complain(
                ("caught_by", index),
                "either 'sequences' and 'monitors' that catch it, or 'unseen' that says why none can",
            )


CHECKS: dict[type, Check] = {
    Sequence: check_sequence,
    Block: check_sequence,
    Monitor: check_monitor,
    System: check_system,
    Equipment: check_equipment,
    Fault: check_fault,
    Kit: check_kit,
}
