"""Golden cases: a trace written for people, what is expected of it, and the verdict worked out by hand.

A case is a mapping. ``trace`` holds one line of the log a line, ``MOMENT WHAT`` or ``EARLIEST..LATEST WHAT`` in ms::

    1000 begin a Y1=on          step a begins and awaits that call (also power=off, switch:limit=open)
    1000 begin a anchor 990..995   … or is given its anchor
    1010..1020 call Y1 on       a call's contact; also `power off`, `switch limit open`
    3000..3100 blower on        a point's edge; `blower chatter 7`
    4000 supply_air = 40.5      a reading, SI
    5000 gap blower             no point named: all of them
    6000 snapshot blower=on     what is written, else what the trace has said so far; `blower=?` leaves it out
    7000 settled
    8000 answer a.1 yes         also `exception a.1`, `pause begin`, `settle end`, `note`
    9000 end a cut: a person stopped it
    9000 sequence end           also `sequence begin`, `… NAME`, `… cut: why`

The header, the documents, a snapshot at 0 (everything off, changed by ``start``), the sequence's begin before its first
step and its end after the last line are put in where the trace has none; ``torn`` leaves the end out.
"""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path
from typing import Any

import msgspec
import yaml

from stagecall.model import event, plan
from stagecall.model.sequence import Anchor, Condition
from stagecall.model.verdict import Reason, Verdict
from stagecall.points import point
from stagecall.units import Kind, Range, parse_quantity, parse_spread

FOLDER = Path(__file__).parent / "golden"
WIDTH = 100
CALL_WIDTH = 10
START = {
    "compressor": "off", "contactor": "off", "blower": "off", "inducer": "off", "ignitor": "off", "gas_valve": "off",
    "flame": "off", "defrost": "off", "strip_1": "off", "pressure_switch": "open", "limit": "closed",
    "reversing_valve": "heat",
}  # fmt: skip
"""The points that the default source sees, each up to 100 ms late and blind to nothing, and how they are at first."""


class Bounds(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """One point's own bounds: ``late`` as ``least..most`` ms, both ways; the rest as in ``PointBounds``."""

    late: str = f"0..{WIDTH}"
    blind: int = 0
    uncertainty: float = 0.0
    holds: int = 0
    unseen: bool = False


class Says(msgspec.Struct, frozen=True):
    """A verdict with its reason."""

    verdict: Verdict
    reason: Reason | None = None

    @classmethod
    def read(cls, text: str) -> Says:
        word, _, reason = text.partition(", ")
        return cls(Verdict(word.replace(" ", "_")), Reason(reason) if reason else None)


class Case(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One golden case as it stands in the file; lists may be written as a single value."""

    name: str
    rule: tuple[int, ...]
    shows: tuple[str, ...]
    trace: str
    expect: tuple[dict[str, Any], ...] = ()
    says: tuple[str, ...] = ()
    of: str = ""
    """The step that expects; the last one begun unless said."""
    bounds: dict[str, Bounds] = {}
    call_width: int = CALL_WIDTH
    start: dict[str, str] = {}
    monitor: bool = False
    must_run: bool = False
    deferred: str = ""
    not_applicable: str = ""
    step_not_applicable: str = ""
    starts: dict[str, str] = {}
    also: tuple[str, ...] = ()
    """Steps of the sequence that the trace never begins."""
    torn: bool = False
    observed: str | None = None
    margin: float | None = None
    usual: bool | None = None
    remark: str = ""
    """Words that the remark must hold."""
    detail: str = ""
    instances: int | None = None
    failed: int | None = None
    counted: bool | None = None
    at: int | None = None  # the moment of the line that settled it
    evidence: tuple[str, ...] = ()  # lines of the trace that the verdict must name
    sequence: str | None = None  # the roll-up, of the monitor where it is one
    run: str | None = None
    others: dict[str, str] = {}  # further verdicts by id, such as ``starts.1``

    @property
    def step(self) -> str:
        """The step whose expectations these are."""
        return self.of or (_BEGIN.findall(self.trace) or ["a"])[-1]

    @property
    def ids(self) -> tuple[str, ...]:
        owner = "m" if self.monitor else self.step
        return tuple(f"{owner}.{k + 1}" for k in range(len(self.expect)))

    @property
    def forms(self) -> tuple[plan.Form, ...]:
        return tuple(form(raw, name) for raw, name in zip(self.expect, self.ids, strict=True))


_BEGIN = re.compile(r"^\S+ begin (\w+)", re.MULTILINE)
_LISTS = ("rule", "shows", "expect", "says", "also", "evidence")


@cache
def cases() -> tuple[Case, ...]:
    """Every case of every file, in order."""
    found: list[Case] = []
    for path in sorted(FOLDER.glob("*.yaml")):
        for raw in yaml.load(path.read_text(encoding="utf-8"), Loader=yaml.CBaseLoader):  # noqa: S506 - base: text only
            found.append(read_case(raw, path.name))  # noqa: PERF401
    return tuple(found)


def read_case(raw: dict[str, Any], where: str) -> Case:
    """One case of a file; unknown keys and words are errors that name the case."""
    listed = {key: [value] if key in _LISTS and not isinstance(value, list) else value for key, value in raw.items()}
    try:
        case = msgspec.convert(listed, Case, strict=False)
        checked = case.forms, lines(case), [Says.read(text) for text in case.says]
    except (ValueError, KeyError) as err:
        raise ValueError(f"{where}: {raw.get('name', raw)}: {err}") from err
    assert all(checked[:2]), f"{where}: {case.name}"
    return case


def _condition(raw: dict[str, str]) -> Condition:
    ((name, state),) = raw.items()
    known = point(name)
    if known is None or state not in (*known.states, "chatter"):
        raise ValueError(f"{name} {state}")
    return Condition(name, state)


def _anchor(raw: str | dict[str, str]) -> Anchor:
    if isinstance(raw, str):
        if raw != "step":
            raise ValueError(raw)
        return Anchor()
    if "call" in raw:
        return Anchor("call", raw["call"], raw.get("goes", "on"))
    if "power" in raw:
        return Anchor("power", "", raw["power"])
    condition = _condition(raw)
    return Anchor("point", condition.point, condition.state)


def _range(text: str, kind: Kind = "time") -> Range:
    return parse_spread(text).to(kind)


def _limit(text: str, kind: Kind = "time") -> plan.ResolvedLimit:
    return plan.ResolvedLimit(name="limit", range=_range(text, kind), kind=kind)


def _ms(text: str) -> int:
    return int(parse_quantity(text).to("time"))


def form(raw: dict[str, Any], name: str) -> plan.Form:  # noqa: C901 - a branch a form
    """A plan form from its short writing, which is that of the documents."""
    raw = dict(raw)
    word = next(iter(raw))
    what = raw.pop(word)
    fields: dict[str, Any] = {"id": name, "text": f"{word} {what}", "not_applicable": raw.pop("not_applicable", "")}

    def take(key: str, into: str, read: Any) -> None:
        if key in raw:
            fields[into] = read(raw.pop(key))

    made: plan.Form
    if word in ("turns", "stays", "never"):
        take("unless", "unless", lambda got: tuple(_condition({p: s}) for p, s in got.items()))
    if word in ("turns", "stays"):
        take("since", "since", _anchor)
        take("each", "each", _anchor)
    if word in ("stays", "never"):
        take("tolerate", "tolerate", _ms)
    match word:
        case "turns":
            take("within", "within", _limit)
            take("usual", "usual", _range)
            made = plan.Turns(turns=_condition(what), **fields)
        case "stays":
            take("for", "length", _ms)
            take("from", "begin", _ms)
            take("until", "until", _condition)
            made = plan.Stays(stays=_condition(what), **fields)
        case "order":
            take("gaps", "gaps", lambda got: tuple(None if gap == "any" else _limit(gap) for gap in got))
            take("attempt", "attempt", str)
            made = plan.Order(order=tuple(_condition(c) for c in what), **fields)
        case "never":
            made = plan.Never(never=tuple(_condition(c) for c in what), **fields)
        case "reads":
            ((quantity, spread),) = what.items()
            take("at", "at", lambda got: got if got in ("end", "throughout") else _ms(got))
            made = plan.Reads(reads=quantity, limit=_limit(spread, "temperature"), **fields)
        case "times":
            take("count", "count", lambda got: _limit(got, "count"))
            take("per", "per", _ms)
            made = plan.Times(times=_condition(what), **fields)
        case "ask":
            made = plan.Ask(ask=what, **fields)
        case _:
            raise ValueError(f"no such form: {word}")
    if raw:
        raise ValueError(f"unknown keys: {', '.join(raw)}")
    return made


class _Trace:
    """Turns the text of a trace into log lines, remembering what a snapshot would see."""

    def __init__(self, points: dict[str, str]) -> None:
        self.points, self.calls, self.power, self.sequence = points, set[str](), "on", "s"

    def line(self, text: str) -> event.AnyLine:  # noqa: C901, PLR0911, PLR0912 - a branch a word
        moment, word, *rest = text.split()
        early, _, late = moment.rpartition("..")
        when: dict[str, Any] = {"t": int(late)}
        if early:
            when["e"] = int(early)
            if when["e"] > when["t"]:
                raise ValueError(text)
        match word, rest:
            case "begin", [slug, *more]:
                anchor = None
                if more[:1] == ["anchor"]:
                    first, _, last = more[1].partition("..")
                    anchor, more = (int(first), int(last or first)), more[2:]
                awaits = dict(item.split("=") for item in more)
                return event.StepMark(
                    sequence=self.sequence, step=slug, phase="begin", awaits=awaits, anchor=anchor, **when
                )
            case "end", [slug, *more]:
                return event.StepMark(sequence=self.sequence, step=slug, phase="end", cut_short=_cut(more), **when)
            case "sequence", ["begin" | "end" as phase, *more]:
                if more and more[0] != "cut:":
                    self.sequence, *more = more
                return event.SequenceMark(name=self.sequence, phase=phase, cut_short=_cut(more), **when)
            case "call", [terminal, "on" | "off" as state]:
                (self.calls.add if state == "on" else self.calls.discard)(terminal)
                return event.Call(terminal=terminal, state=state, **when)
            case "power", ["on" | "off" as state]:
                self.power = state
                return event.Power(state=state, **when)
            case "switch", [name, "open" | "closed" as state]:
                return event.Switch(name=name, state=state, **when)
            case "gap", names:
                return event.Gap(points=tuple(names), because="samples dropped", **when)
            case "snapshot", changes:
                for name, state in (item.split("=") for item in changes):
                    self.points[name] = state
                seen = {name: state for name, state in self.points.items() if state != "?"}
                return event.Snapshot(points=seen, calls=tuple(sorted(self.calls)), power=self.power, **when)
            case "settled", []:
                return event.Settled(**when)
            case "settle" | "pause", ["begin" | "end" as phase]:
                return (event.Settle if word == "settle" else event.Pause)(phase=phase, **when)
            case "answer", [name, value]:
                return event.Answer(sequence=self.sequence, id=name, value=value, by="A. Person", **when)
            case "exception", [name]:
                return event.Exception_(
                    sequence=self.sequence, id=name, by="A. Person", role="owner", because="agreed", **when
                )
            case "note", words:
                return event.Note(text=" ".join(words), **when)
            case name, ["=", value]:
                return event.Reading(point=name, value=float(value), **when)
            case name, ["chatter", count]:
                self.points[name] = "chatter"
                return event.Edge(point=name, state="chatter", count=int(count), **when)
            case name, [state]:
                condition = _condition({name: state})
                self.points[name] = state
                return event.Edge(point=condition.point, state=condition.state, **when)
        raise ValueError(f"cannot read '{text}'")


def _cut(words: list[str]) -> str:
    if words and words[0] != "cut:":
        raise ValueError(" ".join(words))
    return " ".join(words[1:])


def source(bounds: dict[str, Bounds], call_width: int) -> event.SourceBounds:
    """The default source, changed by a case's own bounds."""
    seen: dict[str, event.PointBounds] = {}
    for name in (*START, "supply_air", *(n for n in bounds if n not in START and n != "supply_air")):
        own = bounds.get(name, Bounds())
        if own.unseen:
            continue
        least, most = (int(end) for end in own.late.split(".."))
        seen[name] = event.PointBounds(
            sensed="air_temp" if name == "supply_air" else "coil_volts",
            late_on=(least, most), late_off=(least, most), blind=own.blind, uncertainty=own.uncertainty,
            holds=own.holds,
        )  # fmt: skip
    return event.SourceBounds(points=seen, call_width=call_width)


def document(kind: str, typed: plan.Sequence | plan.Monitor, t: int = 0) -> event.Document:
    """The log line that carries a plan."""
    return event.Document(
        t=t, kind=kind, name=typed.name, digest="0" * 64, raw="", typed=msgspec.Raw(msgspec.json.encode(typed))
    )


def header(seen: event.SourceBounds) -> event.Header:
    """The first line of any case's log."""
    return event.Header(
        tool="0", run="golden", start="2026-01-01T00:00:00+00:00", tested_on="model", rig="simulated", system="sample",
        kit="sample", source=seen,
    )  # fmt: skip


def numbered(found: list[event.AnyLine]) -> list[event.AnyLine]:
    """The same lines, each with its number."""
    for n, line in enumerate(found):
        line.n = n
    return found


def lines(case: Case) -> list[event.AnyLine]:
    """The whole log of a case."""
    found, _ = _log(case)
    return found


def numbers(case: Case, text: str) -> list[int]:
    """The numbers of the log lines written as *text* in the case's trace."""
    return _log(case)[1][text]


def _log(case: Case) -> tuple[list[event.AnyLine], dict[str, list[int]]]:
    seen = source(case.bounds, case.call_width)
    texts = [text.strip() for text in case.trace.splitlines() if text.strip()]
    slugs = list(dict.fromkeys((*_BEGIN.findall(case.trace), *case.also))) or [case.step]
    found: list[event.AnyLine] = [header(seen)]
    if case.monitor:
        monitor = plan.Monitor(
            name="m", title="m", expect=case.forms, not_applicable=case.not_applicable, must_run=case.must_run
        )
        found.append(document("monitor", monitor))
    if not case.monitor or _BEGIN.search(case.trace):
        steps = tuple(
            plan.Step(
                slug=slug, title=slug, expect=() if case.monitor or slug != case.step else case.forms,
                not_applicable=case.step_not_applicable if slug == case.step else "",
            )
            for slug in slugs
        )  # fmt: skip
        sequence = plan.Sequence(
            name="s", title="s", group="cool", steps=steps, starts=tuple(Condition(*c) for c in case.starts.items()),
            not_applicable="" if case.monitor else case.not_applicable, deferred=case.deferred,
            must_run=case.must_run and not case.monitor,
        )  # fmt: skip
        found.append(document("sequence", sequence))
    start = {name: state for name, state in (START | case.start).items() if name in seen.points}
    trace = _Trace(start)
    if not any(" snapshot" in text for text in texts[:1]):
        found.append(trace.line("0 snapshot"))
    marked = " sequence begin" in case.trace or not _BEGIN.search(case.trace)
    where: dict[str, list[int]] = {}
    for text in texts:
        line = trace.line(text)
        if not marked and isinstance(line, event.StepMark):
            marked = True
            found.append(event.SequenceMark(t=line.t, name="s", phase="begin"))
        where.setdefault(text, []).append(len(found))
        found.append(line)
    if _BEGIN.search(case.trace) and " sequence end" not in case.trace and not case.torn:
        found.append(event.SequenceMark(t=found[-1].t, name="s", phase="end"))
    moments = [line.t for line in found]
    if moments != sorted(moments):
        raise ValueError("lines out of order")
    return numbered(found), where
