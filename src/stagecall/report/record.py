"""The record of a run: one value, built from a log's lines, that every drawing is made from.

A :class:`Gathering` takes the lines one after the other, so that a log of any length needs memory for what the record
shows only. Where verdicts are judged anew they are given by themselves, and those in the log are passed over.
"""

from __future__ import annotations

from collections.abc import Iterable

import msgspec

from stagecall.errors import LogError
from stagecall.model import event, plan
from stagecall.model.event import AnyLine, Exception_, Header, Note, Refusal, TestedOn, VerdictLine, Wait
from stagecall.model.verdict import Reason, Verdict, roll_up
from stagecall.points import Sensed
from stagecall.units import Kind, Range


class Row(msgspec.Struct, frozen=True, kw_only=True):
    """One expectation: what was asked, what came, and how sure that is.

    ``limit``, ``observed`` and ``margin`` are in the unit of ``unit``: whole milliseconds, or SI by kind. ``sensed``
    names the points concerned and by what means each was seen; None where the source cannot see it.
    """

    id: str
    step: str
    text: str
    verdict: Verdict
    reason: Reason | None = None
    detail: str = ""
    remark: str = ""
    unit: Kind = "time"
    limit: Range | None = None
    observed: Range | None = None
    margin: float | None = None
    usual: bool | None = None
    sensed: dict[str, Sensed | None] = {}
    instances: int | None = None
    failed: int | None = None
    counted: bool = True
    lines: tuple[int, ...] = ()


class Judged(msgspec.Struct, frozen=True, kw_only=True):
    """A sequence or a monitor with its verdict and a row for each expectation."""

    name: str
    title: str
    monitor: bool
    verdict: Verdict
    reason: Reason | None = None
    detail: str = ""
    counted: bool = True
    rows: tuple[Row, ...] = ()

    @property
    def idle(self) -> bool:
        """A monitor that had nothing to judge, and did not have to."""
        return self.monitor and self.verdict is Verdict.NOT_VERIFIED and not self.counted


class Record(msgspec.Struct, frozen=True, kw_only=True):
    """Everything that a report tells of one run."""

    tested_on: TestedOn
    system: str
    kit: str
    rig: str
    seed: int | None
    faults: tuple[str, ...]
    run: str
    start: str
    follows: str
    tool: str
    judging: int
    log: str
    digest: str
    """The final digest of the log, hex; empty where the log was never closed."""
    closed: bool
    equipment_ms: int
    events: int
    verdict: Verdict
    reason: Reason | None
    detail: str
    sequences: tuple[Judged, ...]
    monitors: tuple[Judged, ...]
    refusals: tuple[Refusal, ...]
    waits: tuple[Wait, ...]
    notes: tuple[Note, ...]
    exceptions: tuple[Exception_, ...]
    cautions: tuple[str, ...]
    seen: dict[str, Sensed]
    """Every point that the source could see, and how."""
    came_on: frozenset[str]
    """Points that were seen to go on."""
    must_see: frozenset[str]
    """Points that an expectation of this run asked for."""
    drawn: bool = False
    """The model was a healthy machine drawn by the seed."""


def points_of(form: plan.Form) -> tuple[str, ...]:
    """The points whose answer an expectation asks for; of a question: none."""
    match form:
        case plan.Turns(turns=one) | plan.Stays(stays=one) | plan.Times(times=one):
            return (one.point,)
        case plan.Order(order=several) | plan.Never(never=several):
            return tuple(dict.fromkeys(condition.point for condition in several))
        case plan.Reads():
            return (form.reads,)
        case plan.Ask():
            return ()


class Asked(msgspec.Struct, frozen=True):
    """What a plan document says of one expectation, before anything is judged."""

    step: str
    text: str
    points: tuple[str, ...]


class Planned(msgspec.Struct, frozen=True):
    """What a plan document says: its expectations by id."""

    name: str
    title: str
    monitor: bool
    asked: dict[str, Asked]
    caution: str = ""


def planned(document: event.Document) -> Planned | None:
    """What a sequence's or monitor's document asks; None for any other.

    Raises:
        LogError: its typed form is none of ours.
    """
    try:
        if document.kind == "sequence":
            return _of_sequence(msgspec.json.decode(document.typed, type=plan.Sequence))
        if document.kind == "monitor":
            return _of_monitor(msgspec.json.decode(document.typed, type=plan.Monitor))
    except msgspec.MsgspecError as error:
        raise LogError(f"the {document.kind} '{document.name}' in the log cannot be understood: {error}") from error
    return None


def _of_sequence(sequence: plan.Sequence) -> Planned:
    asked = {
        f"starts.{number}": Asked("before the first step", f"{condition} at the start", (condition.point,))
        for number, condition in enumerate(sequence.starts, 1)
    }
    for step in sequence.steps:
        asked |= {form.id: Asked(step.title, form.text, points_of(form)) for form in step.expect}
    return Planned(sequence.name, sequence.title, False, asked, sequence.caution)


def _of_monitor(monitor: plan.Monitor) -> Planned:
    asked = {form.id: Asked("", form.text, points_of(form)) for form in monitor.expect}
    return Planned(monitor.name, monitor.title, True, asked)


class Gathering:
    """Takes the lines of one log in order and gives the record at the end.

    ``anew``: verdicts come through :meth:`verdict` only, and those among the lines are passed over.
    """

    def __init__(self, header: Header, *, log: str = "", anew: bool = False) -> None:
        self._header, self._log, self._anew = header, log, anew
        self._seen: dict[str, Sensed] = {name: bounds.sensed for name, bounds in header.source.points.items()}
        self._plans: dict[tuple[bool, str], Planned] = {}
        self._open: dict[tuple[bool, str], list[VerdictLine]] = {}
        self._judged: list[Judged] = []
        self._refusals: list[Refusal] = []
        self._waits: list[Wait] = []
        self._notes: list[Note] = []
        self._exceptions: list[Exception_] = []
        self._came_on: set[str] = set()
        self._whole: VerdictLine | None = None
        self._events = self._last = 0
        self._closed = False

    def take(self, line: AnyLine) -> None:
        """Take the next line of the log."""
        self._last = max(self._last, line.t)
        if isinstance(line, event.Event) and not isinstance(line, Note):
            self._events += 1
            if isinstance(line, event.Edge) and line.state == "on":
                self._came_on.add(line.point)
            return
        match line:
            case VerdictLine():
                if not self._anew:
                    self.verdict(line)
            case event.Document():
                if (asks := planned(line)) is not None:
                    self._plans[asks.monitor, asks.name] = asks
            case Refusal():
                self._refusals.append(line)
            case Wait():
                self._waits.append(line)
            case Note():
                self._notes.append(line)
            case Exception_():
                self._exceptions.append(line)
            case event.Seal():
                self._closed = line.closing
            case _:
                pass

    def verdict(self, line: VerdictLine) -> None:
        """Take a verdict; that of a whole sequence or monitor closes it, and a later one of the same name is new."""
        if not line.of:
            self._whole = line
            return
        key = (line.monitor, line.of)
        if line.id:
            self._open.setdefault(key, []).append(line)
        else:
            self._judged.append(self._judge(key, self._open.pop(key, []), line))

    def _judge(self, key: tuple[bool, str], lines: list[VerdictLine], whole: VerdictLine | None) -> Judged:
        asks = self._plans.get(key) or Planned(key[1], key[1].replace("-", " "), key[0], {})
        rows = tuple(self._row(asks, line) for line in lines)
        if whole is None:
            worst = roll_up(row.verdict for row in rows if row.counted)
            reason = Reason.CUT_SHORT if worst is Verdict.NOT_VERIFIED else None
            whole = VerdictLine(verdict=worst, reason=reason, detail="the log ends before its verdict")
        return Judged(
            name=asks.name,
            title=asks.title,
            monitor=asks.monitor,
            verdict=whole.verdict,
            reason=whole.reason,
            detail=whole.detail,
            counted=whole.counted,
            rows=rows,
        )

    def _row(self, asks: Planned, line: VerdictLine) -> Row:
        asked = asks.asked.get(line.id) or Asked("", line.id, ())
        return Row(
            id=line.id,
            step=asked.step,
            text=asked.text,
            verdict=line.verdict,
            reason=line.reason,
            detail=line.detail,
            remark=line.remark,
            unit=line.unit,
            limit=line.limit,
            observed=line.observed,
            margin=line.margin,
            usual=line.usual,
            sensed={point: self._seen.get(point) for point in asked.points},
            instances=line.instances,
            failed=line.failed,
            counted=line.counted,
            lines=line.lines,
        )

    def record(self, *, digest: str = "") -> Record:
        """The record of all lines taken so far."""
        head = self._header
        judged = self._judged + [self._judge(key, lines, None) for key, lines in self._open.items()]
        whole = self._whole or VerdictLine(
            verdict=roll_up(each.verdict for each in judged if each.counted), detail="the log ends before its verdict"
        )
        return Record(
            tested_on=head.tested_on,
            system=head.system,
            kit=head.kit,
            rig=head.rig,
            seed=head.seed,
            drawn=head.drawn,
            faults=head.faults,
            run=head.run,
            start=head.start,
            follows=head.follows,
            tool=head.tool,
            judging=head.judging,
            log=self._log,
            digest=digest,
            closed=self._closed or bool(digest),
            equipment_ms=self._last,
            events=self._events,
            verdict=whole.verdict,
            reason=whole.reason,
            detail=whole.detail,
            sequences=tuple(each for each in judged if not each.monitor),
            monitors=tuple(each for each in judged if each.monitor),
            refusals=tuple(self._refusals),
            waits=tuple(self._waits),
            notes=tuple(self._notes),
            exceptions=tuple(self._exceptions),
            cautions=tuple(dict.fromkeys(each.caution for each in self._plans.values() if each.caution)),
            seen=self._seen,
            came_on=frozenset(self._came_on),
            must_see=frozenset(point for each in judged for row in each.rows if row.counted for point in row.sensed),
        )


def record_of(
    lines: Iterable[AnyLine], *, anew: Iterable[VerdictLine] | None = None, log: str = "", digest: str = ""
) -> Record:
    """The record of a whole log; with the verdicts ``anew`` in place of the stored ones where they are given.

    Raises:
        LogError: the first line is no header.
    """
    rest = iter(lines)
    header = next(rest, None)
    if not isinstance(header, Header):
        raise LogError(f"{log or 'the log'}: the first line is not a log's header")
    gathering = Gathering(header, log=log, anew=anew is not None)
    for line in rest:
        gathering.take(line)
    for verdict in anew or ():
        gathering.verdict(verdict)
    return gathering.record(digest=digest)
