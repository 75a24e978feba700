"""What the slow judge asks of a whole log: edges, states, anchors, and what is settled by a line."""

from __future__ import annotations

from dataclasses import dataclass, field

from stagecall.model import event
from stagecall.model.sequence import Anchor
from stagecall.model.verdict import Reason, Verdict, roll_up

Says = tuple[Verdict, frozenset[Reason]]
"""A verdict, and the reasons any of which is right."""

PASS: Says = (Verdict.PASS, frozenset())
FAIL: Says = (Verdict.FAIL, frozenset())
NOT_APPLICABLE: Says = (Verdict.NOT_APPLICABLE, frozenset())


def unverified(reason: Reason) -> Says:
    return (Verdict.NOT_VERIFIED, frozenset((reason,)))


def either(*answers: Says) -> Says:
    """Not verified for more than one reason, any of which may be given."""
    return (Verdict.NOT_VERIFIED, frozenset[Reason]().union(*(reasons for _, reasons in answers)))


CUT = unverified(Reason.CUT_SHORT)
CLOSE = unverified(Reason.TOO_CLOSE)
UNSEEN = unverified(Reason.NOT_OBSERVED)
LOST = unverified(Reason.NOT_OBSERVED)
"""Not observed for a gap; told from UNSEEN by identity, for a monitor does not count it."""
ABSENT = unverified(Reason.NEVER_CAME_UP)
ALREADY = unverified(Reason.ALREADY_SO)


@dataclass
class Span:
    """A change with its number in the log and the interval in which it happened, ms."""

    n: int
    e: int
    t: int


@dataclass
class Scope:
    """The lines that an expectation looks at: a step's, or the whole log's for a monitor. ``last`` is its closing."""

    log: Log
    first: int
    last: int
    cut: bool
    monitor: bool = False
    sequence: int = 0

    @property
    def begin(self) -> event.StepMark:
        mark = self.log.lines[self.first]
        assert isinstance(mark, event.StepMark)
        return mark


@dataclass
class Log:
    """All the lines of a finished log, with the questions that can be asked of them."""

    lines: list[event.AnyLine]
    closed: bool
    bounds: dict[str, event.PointBounds] = field(default_factory=dict)

    def edges(self, kind: str, name: str, state: str, first: int, stop: int) -> list[Span]:
        """Every change of that kind to that state among the lines first..stop-1."""
        found = []
        for n in range(max(first, 0), stop):
            line = self.lines[n]
            match line:
                case event.Edge():
                    same = (kind, name, state) == ("point", line.point, line.state)
                case event.Call():
                    same = (kind, name, state) == ("call", line.terminal, line.state)
                case event.Power():
                    same = (kind, state) == ("power", line.state)
                case event.Switch():
                    same = (kind, name, state) == ("switch", line.name, line.state)
                case _:
                    continue
            if same:
                found.append(Span(n, event.earliest(line), line.t))
        return found

    def state(self, name: str, stop: int) -> str | None:
        """What the lines before *stop* say the point is; None where they do not."""
        for n in range(stop - 1, -1, -1):
            match self.lines[n]:
                case event.Edge(point=point, state=state) if point == name:
                    return state
                case event.Snapshot(points=points):
                    return points.get(name)
                case event.Gap(points=points) if not points or name in points:
                    return None
        return None

    def breaks(self, name: str, n: int) -> bool:
        """Line *n* ends what was known of the point: a gap, or a snapshot that contradicts."""
        match self.lines[n]:
            case event.Gap(points=points):
                return not points or name in points
            case event.Snapshot(points=points):
                believed = self.state(name, n)
                return believed is not None and points.get(name) != believed
        return False

    def lost(self, name: str, n: int) -> int:
        """From when on the point is unknown where line *n* breaks what was known of it, ms.

        A gap says so itself; where a snapshot contradicts, all that nobody has vouched for is in doubt.
        """
        line = self.lines[n]
        if name not in self.bounds:
            return 0
        own = [other.t for other in self.lines[:n] if isinstance(other, event.Edge) and other.point == name]
        vouched = event.earliest(line) if isinstance(line, event.Gap) else self.told(n)
        return min(max([vouched - self.width(name), *own[-1:]]), line.t)

    def settled(self, n: int) -> int | None:
        """The moment up to which line *n* says that all is told, ms."""
        line = self.lines[n]
        ends = isinstance(line, event.StepMark | event.SequenceMark) and line.phase == "end"
        return line.t if ends or isinstance(line, event.Settled | event.Settle | event.Snapshot) else None

    def told(self, stop: int) -> int:
        """The latest such moment before line *stop*, ms."""
        return max((s for n in range(stop) if (s := self.settled(n)) is not None), default=-1)

    def width(self, name: str) -> int:
        return self.bounds[name].width


def _awaited(item: str) -> tuple[str, str]:
    if item == "power":
        return "power", ""
    if item.startswith("switch:"):
        return "switch", item.removeprefix("switch:")
    return "call", item


def step_anchor(scope: Scope) -> Span | None:
    """The hull of what the step awaits; None where it did not all come."""
    begin = scope.begin
    if begin.anchor is not None:
        return Span(scope.first, *begin.anchor)
    firsts = []
    for item, state in begin.awaits.items():
        found = scope.log.edges(*_awaited(item), state, scope.first, scope.last + 1)
        if not found:
            return None
        firsts.append(found[0])
    if not firsts:
        return Span(scope.first, begin.t, begin.t)
    return Span(max(f.n for f in firsts), min(f.e for f in firsts), max(f.t for f in firsts))


def anchor_of(scope: Scope, anchor: Anchor) -> Span | None:
    """The change that times are counted from, with the line by which it is known; None where it never came."""
    if anchor.kind == "step":
        return step_anchor(scope)
    log = scope.log
    inside = log.edges(anchor.kind, anchor.name, anchor.state, scope.first, scope.last + 1)
    item = {"call": anchor.name, "power": "power"}.get(anchor.kind)
    if item is None or scope.begin.awaits.get(item) != anchor.state:
        since = scope.sequence if anchor.kind == "point" else 0
        before = _last_unbroken(log, anchor, since, scope.first)
        if before is not None:
            return Span(scope.first, before.e, before.t)
    return inside[0] if inside else None


def _last_unbroken(log: Log, anchor: Anchor, first: int, stop: int) -> Span | None:
    """The last such edge before *stop* that nothing has undone: no other state, no gap, no snapshot."""
    for n in range(stop - 1, first - 1, -1):
        line = log.lines[n]
        if isinstance(line, event.Snapshot) or (
            isinstance(line, event.Gap) and (not line.points or anchor.name in line.points)
        ):
            return None
        if found := log.edges(anchor.kind, anchor.name, anchor.state, n, n + 1):
            return found[0]
        mine = {event.Edge: "point", event.Call: "call", event.Power: "power"}.get(type(line))
        if mine == anchor.kind and (mine == "power" or anchor.name == _name(line)):
            return None
    return None


def _name(line: event.AnyLine) -> str:
    return line.point if isinstance(line, event.Edge) else line.terminal if isinstance(line, event.Call) else ""


def judged(low: float, high: float, limit: tuple[float | None, float | None]) -> Says:
    """An interval against a limit: wholly inside, wholly outside, or neither."""
    least, most = limit
    if (least is None or low >= least) and (most is None or high <= most):
        return PASS
    if (least is not None and high < least) or (most is not None and low > most):
        return FAIL
    return CLOSE


def answered(response: Span, anchor: Span, limit: tuple[float | None, float | None]) -> Says:
    """A response against its limit; one that straddles its anchor passes where it would if it came after."""
    low, high = response.e - anchor.t, response.t - anchor.e
    if low > 0:
        return judged(low, high, limit)
    return PASS if judged(0, high, limit) == PASS else CLOSE


def combined(scope: Scope, answers: list[Says]) -> Says:
    """The worst of several instances; any of their reasons will do. Of none: it never came up, or was cut short."""
    counted = [answer for answer in answers if answer[0] is not Verdict.NOT_APPLICABLE]
    if not counted:
        if answers:
            return NOT_APPLICABLE
        return either(ABSENT, CUT) if scope.cut else ABSENT
    verdict = roll_up(answer[0] for answer in counted)
    reasons = frozenset[Reason]().union(*(answer[1] for answer in counted if answer[0] is verdict))
    return verdict, reasons
