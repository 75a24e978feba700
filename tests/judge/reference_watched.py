"""The slow judge's ``turns``, ``stays`` and ``never``."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from itertools import pairwise

from reference_log import (
    ABSENT,
    ALREADY,
    CLOSE,
    CUT,
    FAIL,
    LOST,
    NOT_APPLICABLE,
    PASS,
    UNSEEN,
    Log,
    Says,
    Scope,
    Span,
    answered,
    either,
)  # fmt: skip

from stagecall.model import event, plan
from stagecall.model.sequence import Condition


def _first_certain(scope: Scope, first: int, certain: Callable[[int], Says | None]) -> Says | None:
    for n in range(first, scope.last + 1):
        if (answer := certain(n)) is not None:
            return answer
    return None


def lost(scope: Scope, form: plan.Turns | plan.Stays, n: int) -> bool:
    """Line *n* loses sight of the point, or of the point that it is counted from."""
    anchor = form.each or form.since
    names = [form.turns.point if isinstance(form, plan.Turns) else form.stays.point]
    if anchor.kind == "point":
        names.append(anchor.name)
    if isinstance(form, plan.Stays) and form.until is not None:
        names.append(form.until.point)
    return any(scope.log.breaks(name, n) for name in names)


def turns(scope: Scope, form: plan.Turns, anchor: Span | None, opened: int) -> Says:
    """One instance of a ``turns`` from the line that opened it."""
    log, want = scope.log, form.turns
    limit = (form.within.range.low or None, form.within.range.high)
    width, each = log.width(want.point), form.each is not None

    def certain(n: int) -> Says | None:  # noqa: PLR0911 - one rule a line
        if n > opened and lost(scope, form, n):
            return LOST
        if anchor is None or n < anchor.n:
            return None
        if any(log.state(c.point, n + 1) == c.state for c in form.unless):
            return NOT_APPLICABLE
        if n == anchor.n and _surely_already(scope, want, anchor):
            return ALREADY
        later = [r for r in log.edges("point", want.point, want.state, scope.first, n + 1) if r.t >= anchor.e]
        if later:
            return answered(later[0], anchor, limit)
        known = log.told(n + 1) - width - anchor.t
        if limit[1] is not None and known >= limit[1]:
            return FAIL
        if each and limit[1] is None and known >= (limit[0] or 0):
            return PASS
        return None

    if (answer := _first_certain(scope, opened, certain)) is not None:
        return answer
    if each or scope.cut:
        return CUT
    if anchor is None:
        return CUT if form.since.kind == "step" else ABSENT
    return FAIL


def _surely_already(scope: Scope, want: Condition, anchor: Span) -> bool:
    """The point is in that state when the anchor is known, by a change that came surely before the anchor."""
    log = scope.log
    if log.state(want.point, anchor.n + 1) != want.state:
        return False
    changes = log.edges("point", want.point, want.state, scope.first, anchor.n + 1)
    return not changes or changes[-1].t < anchor.e


def stays(scope: Scope, form: plan.Stays, anchor: Span | None, opened: int) -> Says:
    """One instance of a ``stays`` from the line that opened it."""
    log, want = scope.log, form.stays
    blind = log.bounds[want.point].blind
    tolerate = form.tolerate if form.tolerate is not None else blind if blind <= 1000 else -1

    def looked(answer: Says) -> Says:
        return UNSEEN if answer == PASS and tolerate < blind else answer

    def certain(n: int) -> Says | None:
        if n > opened and lost(scope, form, n):
            return LOST
        if anchor is None or n < anchor.n:
            return None
        sure, over = watch(scope, form, anchor, n, max(tolerate, 0))
        return looked(sure) if sure is not None and (over or sure == FAIL) else None

    if (answer := _first_certain(scope, opened, certain)) is not None:
        return answer
    if anchor is None:
        return CUT if scope.cut or form.since.kind == "step" else ABSENT
    sure, _ = watch(scope, form, anchor, scope.last, max(tolerate, 0))
    if scope.cut or form.length is not None or log.told(scope.last + 1) < anchor.t + form.begin:
        return CUT if sure == PASS else either(CUT, CLOSE)
    return CLOSE if sure is None else looked(sure)


def watch(scope: Scope, form: plan.Stays, anchor: Span, n: int, tolerate: int) -> tuple[Says | None, bool]:
    """What the lines up to *n* say of the time watched, and whether all of it is over. None: it hangs on what comes."""
    log, want = scope.log, form.stays
    begin = Span(anchor.n, anchor.e + form.begin, anchor.t + form.begin)
    end: Span | None = None
    if form.length is not None:
        end = Span(-1, begin.e + form.length, begin.t + form.length)
    elif form.until is not None:
        found = log.edges("point", form.until.point, form.until.state, scope.first, n + 1)
        end = next((u for u in found if u.t >= begin.e and u.n != anchor.n), None)
    known = log.told(n + 1) - log.width(want.point)
    says: list[Says | None] = [PASS]
    for away, back in _outside(scope, form, n, _absences(scope, want, n)):
        says.append(_absence(anchor, begin, end, away, back, max(known, _still(log, want, away, n)), tolerate))
        if form.until is not None and end is None and says[-1] == FAIL and away is not None and away.n != anchor.n:
            ending = log.told(n + 1) - log.width(form.until.point)
            says[-1] = FAIL if away.t <= max(ending, begin.t) else None
    over = end is not None and known >= end.t
    if FAIL in says:
        return FAIL, over
    if None in says:
        return None, over
    return (CLOSE if CLOSE in says else PASS), over


def _still(log: Log, want: Condition, away: Span | None, n: int) -> int:
    """Until when a later change of its own shows that it had not come back, ms."""
    own = log.lines[: n + 1] if away is None else log.lines[away.n + 1 : n + 1]
    return max((line.t for line in own if isinstance(line, event.Edge) and line.point == want.point), default=-1)


def _absences(scope: Scope, want: Condition, n: int) -> Iterator[tuple[Span | None, Span | None]]:
    """Every time that the point was in another state: when it left (None: before the scope), when it came back."""
    log = scope.log
    away: Span | None = None
    gone = log.state(want.point, scope.first) not in (want.state, None)
    for i in range(scope.first, n + 1):
        line = log.lines[i]
        if isinstance(line, event.Snapshot) and log.state(want.point, i) != line.points[want.point]:
            gone, away = line.points[want.point] != want.state, None
        if not isinstance(line, event.Edge) or line.point != want.point:
            continue
        here = Span(i, event.earliest(line), line.t)
        if gone and line.state == want.state:
            yield away, here
            gone = False
        elif not gone and line.state != want.state:
            gone, away = True, here
    if gone:
        yield away, None


def _outside(
    scope: Scope, form: plan.Stays, n: int, absences: Iterator[tuple[Span | None, Span | None]]
) -> Iterator[tuple[Span | None, Span | None]]:
    """The absences less all the time in which ``unless`` perhaps held."""
    pieces = list(absences)
    for condition in form.unless:
        for since, until in _holding(scope, condition, n):
            rest: list[tuple[Span | None, Span | None]] = []
            for away, back in pieces:
                if (until is not None and away is not None and away.t >= until) or (
                    back is not None and back.e <= since
                ):
                    rest.append((away, back))
                    continue
                if away is None or away.e < since:
                    rest.append((away, Span(-1, since, since)))
                if until is not None and (back is None or back.t > until):
                    rest.append((Span(-1, until, until), back))
            pieces = rest
    yield from pieces


def _holding(scope: Scope, condition: Condition, n: int) -> Iterator[tuple[int, int | None]]:
    """From when until when the condition perhaps held, ms."""
    since = 0 if scope.log.state(condition.point, scope.first) == condition.state else None
    for i in range(scope.first, n + 1):
        line = scope.log.lines[i]
        if not isinstance(line, event.Edge) or line.point != condition.point:
            continue
        if line.state == condition.state and since is None:
            since = event.earliest(line)
        elif line.state != condition.state and since is not None:
            yield since, line.t
            since = None
    if since is not None:
        yield since, None


def _absence(  # noqa: PLR0911, PLR0917 - one rule a line
    anchor: Span, begin: Span, end: Span | None, away: Span | None, back: Span | None, known: int, tolerate: int
) -> Says | None:
    """What one absence makes of a watch. None: not yet certain."""
    if back is not None and (back.n == anchor.n or back.t < begin.e):
        return PASS
    if away is None or away.n == anchor.n or away.t < begin.e:  # gone before the watch began
        if back is None:
            return FAIL if known >= begin.t else None
        return FAIL if back.e > begin.t else CLOSE
    if end is not None and away.e >= end.t:
        return PASS
    if back is not None and back.t - away.e <= tolerate:
        return PASS
    if away.e <= begin.t or (end is not None and away.t >= end.e):  # touches only an uncertain end
        return CLOSE if back is not None or known - away.e > tolerate else None
    if back is not None:
        return FAIL if back.e - away.t > tolerate else CLOSE
    return FAIL if known + 1 - away.t > tolerate else None


def never(scope: Scope, form: plan.Never) -> Says:
    """Cuts time at every end of every interval, and asks of each piece what each member is in it."""
    log = scope.log
    widest = max((log.bounds[c.point].blind for c in form.never if c.point in log.bounds), default=0)
    tolerate = form.tolerate if form.tolerate is not None else widest if widest <= 1000 else -1
    most = max(tolerate, 0)
    for n in range(scope.first, scope.last + 1):
        if _together(scope, form, n, most, ("yes",)) > most:
            return FAIL
    close = _together(scope, form, scope.last, most, ("yes", "perhaps")) > most
    unseen = _together(scope, form, scope.last, most, ("yes", "perhaps", "unseen")) > most
    surely_unseen = not close and _together(scope, form, scope.last, most, ("yes", "unseen")) > most
    if scope.cut:
        return either(CUT, CLOSE, UNSEEN) if unseen else CUT
    if surely_unseen:
        return UNSEEN
    if unseen:
        return either(CLOSE, UNSEEN)
    return UNSEEN if tolerate < widest else PASS


def _together(scope: Scope, form: plan.Never, n: int, most: int, words: tuple[str, ...]) -> int:
    """The longest time in which every member was one of *words*, ms; parted by less than ``tolerate`` they merge."""
    log = scope.log
    start = 0 if scope.monitor else scope.begin.t
    stop = log.lines[min(n, len(log.lines) - 1)].t if n < scope.last or not scope.monitor else log.told(n + 1)
    if n < scope.last:
        stop = log.told(n + 1)
    cuts = {start, stop}
    for line in log.lines[: n + 1]:
        cuts |= {line.t, event.earliest(line)} if isinstance(line, event.Edge | event.Gap) else {line.t}
    cuts |= {log.told(n + 1) - log.width(c.point) for c in (*form.never, *form.unless) if c.point in log.bounds}
    cuts |= {log.lost(c.point, i) for c in (*form.never, *form.unless) for i in range(n + 1) if log.breaks(c.point, i)}
    spans: list[list[int]] = []
    for left, right in pairwise(sorted(cut for cut in cuts if start <= cut <= stop)):
        if any(_member(log, c, left, right, n) != "no" for c in form.unless if c.point in log.bounds):
            continue
        late = max((log.width(c.point) for c in form.unless if c.point in log.bounds), default=0)
        if "perhaps" not in words and right > log.told(n + 1) - late:
            continue  # the condition may have come to hold, and be told later
        if "unseen" not in words and any(c.point not in log.bounds for c in form.unless):
            continue
        if all(_member(log, c, left, right, n) in words for c in form.never):
            if spans and left - spans[-1][1] < max(most, 1):
                spans[-1][1] = right
            else:
                spans.append([left, right])
    return max((right - left for left, right in spans), default=0)


def _member(log: Log, condition: Condition, left: int, right: int, n: int) -> str:
    """Whether the condition holds between two neighbouring cuts: yes, no, perhaps (an edge is about) or unseen."""
    if condition.point not in log.bounds:
        return "unseen"
    before: str | None = None
    states: set[str | None] | None = None
    for i, line in enumerate(log.lines[: n + 1]):
        after = log.state(condition.point, i + 1)
        match line:
            case event.Edge(point=point) if point == condition.point:
                if event.earliest(line) <= left and right <= line.t:
                    states = {before, after}
                elif line.t <= left:
                    states = {after}
            case event.Gap() | event.Snapshot():
                if log.breaks(condition.point, i) and log.lost(condition.point, i) <= left:
                    states = {None}
                if line.t <= left:
                    states = {after}
        before = after
    states = states if states is not None else {None}
    if None in states:
        return "unseen"
    holds = {state == condition.state for state in states}
    if len(holds) == 2:
        return "perhaps"
    if holds == {True}:
        return "yes" if right <= log.told(n + 1) - log.width(condition.point) else "perhaps"
    return "no"
