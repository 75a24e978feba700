"""The lines of a log: everything that a run leaves behind, and all that the judge ever sees.

``n`` numbers the lines, ``t`` is the moment on the source's clock in whole milliseconds since the run began. Where a
change can have happened earlier than it was seen, ``e`` is the earliest moment; the interval [e, t] is inclusive, e
floored and t ceiled. Lines stand in the order of ``t``.
"""

from __future__ import annotations

from typing import Literal

import msgspec

from stagecall.model.verdict import Reason, Verdict
from stagecall.points import Sensed
from stagecall.units import Kind, Range

FORMAT = 1
"""Version of the log's format."""
JUDGING = 1
"""Version of the rules of the judge."""

TestedOn = Literal["model", "bench", "equipment", "recorded log"]


class PointBounds(msgspec.Struct, frozen=True, kw_only=True, omit_defaults=True):
    """What a source promises of one point.

    ``late_on`` and ``late_off``: how much later than it happened a change is stamped, least and most, in ms (a switch
    closing counts as on, opening as off; a level uses the wider). ``blind``: the longest pulse that can be missed, ms.
    ``uncertainty`` of a reading in SI (of a temperature: kelvin); ``holds``: how long one reading stays valid, ms.
    """

    sensed: Sensed
    late_on: tuple[int, int] = (0, 0)
    late_off: tuple[int, int] = (0, 0)
    blind: int = 0
    uncertainty: float = 0.0
    holds: int = 0

    @property
    def width(self) -> int:
        """The widest interval [e, t] that a change of this point can have, ms."""
        return max(self.late_on[1] - self.late_on[0], self.late_off[1] - self.late_off[0])


class SourceBounds(msgspec.Struct, frozen=True, kw_only=True, omit_defaults=True):
    """What a source declares of itself. A point that is not named here cannot be seen."""

    makes_calls: bool = True
    points: dict[str, PointBounds] = {}
    call_width: int = 0
    """The widest interval of a call's, a switch's or the power's edge, ms."""
    interval: int | None = None
    """Nominal time between samples, ms; None where changes are reported as they happen."""


class Line(msgspec.Struct, kw_only=True, omit_defaults=True, tag_field="k", gc=False):
    """What every line has."""

    n: int = -1
    t: int = 0


class Header(Line, kw_only=True, tag="header"):
    """The first line."""

    format: int = FORMAT
    judging: int = JUDGING
    tool: str
    run: str
    start: str
    """RFC 3339 with offset."""
    tested_on: TestedOn
    rig: str
    system: str
    kit: str
    source: SourceBounds
    seed: int | None = None
    drawn: bool = False
    """The model was a healthy machine drawn by that seed over the range seen; else the typical one."""
    faults: tuple[str, ...] = ()
    follows: str = ""
    """Run id of the log that this one is linked to: the first of its retests, or the run whose rig was lost."""
    dry_run: str = ""
    """Run id of the clean dry run that let relays call live equipment."""


class Document(Line, kw_only=True, tag="document"):
    """A document that was used: what was written (evidence), and the typed, resolved form that the judge reads."""

    kind: Literal["sequence", "monitor", "system", "kit", "equipment", "fault", "map"]
    name: str
    digest: str
    """SHA-256 of ``raw``, hex."""
    raw: str
    typed: msgspec.Raw = msgspec.Raw(b"null")


class Snapshot(Line, kw_only=True, tag="snapshot"):
    """Everything the source can see at this moment: at the start and after a gap or reset. No edge."""

    calls: tuple[str, ...] = ()
    power: Literal["on", "off"] = "on"
    points: dict[str, str] = {}


class Request(Line, kw_only=True, tag="request"):
    """What the runner asks of the rig, written before anything moves."""

    calls: tuple[str, ...] | None = None
    power: Literal["on", "off"] | None = None
    open_switch: str | None = None
    restore: str | None = None
    press: str | None = None
    set: dict[str, float] = {}
    because: str = ""


class Call(Line, kw_only=True, tag="call"):
    """A call's contact moved, as the source reports it."""

    e: int | None = None
    terminal: str
    state: Literal["on", "off"]


class Power(Line, kw_only=True, tag="power"):
    """The control power went on or off."""

    e: int | None = None
    state: Literal["on", "off"]


class Switch(Line, kw_only=True, tag="switch"):
    """A safety or condition switch was opened on purpose, or restored."""

    e: int | None = None
    name: str
    state: Literal["open", "closed"]


class Edge(Line, kw_only=True, tag="edge"):
    """A point changed. ``count`` is given with the state ``chatter`` only: reversals in that second."""

    e: int | None = None
    point: str
    state: str
    count: int = 0


class Reading(Line, kw_only=True, tag="reading"):
    """A quantity was read; SI."""

    point: str
    value: float


class Gap(Line, kw_only=True, tag="gap"):
    """From here nothing is known until the next snapshot. Empty ``points``: all of them."""

    e: int | None = None
    points: tuple[str, ...] = ()
    because: str


class SequenceMark(Line, kw_only=True, tag="sequence"):
    """A sequence begins or ends. ``cut_short`` says why where it did not run to its end."""

    name: str
    phase: Literal["begin", "end"]
    cut_short: str = ""


class Settle(Line, kw_only=True, tag="settle"):
    """The stretch between sequences: all calls off, waiting for the next one's ``starts`` and the guard."""

    phase: Literal["begin", "end"]


class StepMark(Line, kw_only=True, tag="step"):
    """A step begins or ends; its end is a settled moment too.

    ``awaits`` (begin) names what the step moves: ``{"Y1": "on", "power": "off", "switch:limit": "open"}``; the hull of
    those edges is the step's anchor. ``anchor`` (begin) is given instead where calls are witnessed. ``cut_short`` (end)
    says why where the step did not run its full length.
    """

    sequence: str
    step: str
    phase: Literal["begin", "end"]
    awaits: dict[str, str] = {}
    anchor: tuple[int, int] | None = None
    cut_short: str = ""


class Settled(Line, kw_only=True, tag="settled"):
    """Nothing later in the log is stamped at or before ``t``."""


class Wait(Line, kw_only=True, tag="wait"):
    """The guard makes the run wait until a moment."""

    until: int
    because: str


class Refusal(Line, kw_only=True, tag="refusal"):
    """CALL REFUSED."""

    calls: tuple[str, ...] = ()
    because: str


class Question(Line, kw_only=True, tag="question"):
    """A question was put to a person. ``id`` names the expectation, or is empty."""

    sequence: str = ""
    id: str = ""
    text: str


class Answer(Line, kw_only=True, tag="answer"):
    """A person's answer. ``value`` is ``yes``, ``no`` or what was typed."""

    sequence: str = ""
    id: str = ""
    value: str
    by: str = ""


class Exception_(Line, kw_only=True, tag="exception"):  # noqa: N801 - the log's word; not a Python exception
    """A person set an expectation aside."""

    sequence: str
    id: str
    by: str
    role: str
    because: str


class Pause(Line, kw_only=True, tag="pause"):
    """Stepping stopped or went on."""

    phase: Literal["begin", "end"]


class Note(Line, kw_only=True, tag="note"):
    """Something worth telling."""

    text: str


class VerdictLine(Line, kw_only=True, tag="verdict"):
    """A verdict with its evidence. Empty ``id``: of the whole sequence or monitor; empty ``of`` too: of the run.

    ``limit`` and ``observed`` are in the unit of ``unit`` (ms, or SI by kind); ``margin`` is the distance from the
    observed interval to the nearest end of the limit, negative outside; ``lines`` are the numbers of the lines that
    decided it. ``instances`` and ``failed`` count what ``each``, monitors and ``never`` saw.
    """

    of: str = ""
    monitor: bool = False
    id: str = ""
    verdict: Verdict
    reason: Reason | None = None
    detail: str = ""
    unit: Kind = "time"
    limit: Range | None = None
    observed: Range | None = None
    margin: float | None = None
    usual: bool | None = None
    """False: passed, but outside the usual range."""
    remark: str = ""
    instances: int | None = None
    failed: int | None = None
    counted: bool = True
    lines: tuple[int, ...] = ()


class Seal(Line, kw_only=True, tag="seal"):
    """SHA-256 chain: of the seal before (as written, hex digest of its bytes) and of the bytes since."""

    before: str
    since: str
    closing: bool = False
    count: int | None = None
    """Lines in the whole log, this one included; on the closing seal."""


Event = Call | Power | Switch | Edge | Reading | Gap | Snapshot | Note
"""What a source delivers; a note where it has something to say of itself."""

AnyLine = (
    Header | Document | Snapshot | Request | Call | Power | Switch | Edge | Reading | Gap | SequenceMark | Settle
    | StepMark | Settled | Wait | Refusal | Question | Answer | Exception_ | Pause | Note | VerdictLine | Seal
)  # fmt: skip


def earliest(line: Call | Power | Switch | Edge | Gap) -> int:
    """The earliest moment at which the change can have happened, ms."""
    return line.t if line.e is None else line.e
