"""The slow judge's ``order``, ``times``, ``reads`` and ``ask``."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise, permutations

from reference_log import CLOSE, CUT, FAIL, PASS, UNSEEN, Log, Says, Scope, Span, combined, either, judged, step_anchor

from stagecall.model import event, plan


def order(scope: Scope, form: plan.Order) -> Says:
    """Tries every order of the listed edges that their intervals allow."""
    log = scope.log
    anchor = step_anchor(scope)
    edges = [
        (span, k)
        for k, element in enumerate(form.order)
        for span in log.edges("point", element.point, element.state, scope.first, scope.last + 1)
        if anchor is not None and span.t >= anchor.e
    ]
    edges.sort(key=lambda pair: pair[0].n)
    lines = range(scope.first + 1, scope.last + 1)
    broken = next((n for n in lines if any(log.breaks(element.point, n) for element in form.order)), None)
    if broken is not None:
        before = [(span, k) for span, k in edges if span.n < broken]
        answer = _agreed(form, before, _told(log, form, broken))
        stands = {"first": (PASS, FAIL), "each": (FAIL,), "last": ()}[form.attempt]
        return answer if answer in stands else UNSEEN
    if anchor is None:
        return CUT
    return _agreed(form, edges, _told(log, form, scope.last + 1) if scope.cut else None)


def _told(log: Log, form: plan.Order, stop: int) -> dict[str, int]:
    """Up to when each point is known at line *stop*, ms."""
    return {element.point: log.told(stop) - log.width(element.point) for element in form.order}


def _agreed(form: plan.Order, edges: list[tuple[Span, int]], known: dict[str, int] | None) -> Says:
    """What all possible orders say; *known* is given where more could have come."""
    answers = {_attempts(form, one, known) for one in _orders(edges, form)}
    return answers.pop() if len(answers) == 1 else CLOSE


def _orders(edges: list[tuple[Span, int]], form: plan.Order) -> Iterator[list[tuple[Span, int]]]:
    """Every order in which they can have happened; those of one point as they were logged."""
    for one in permutations(edges):
        if all(
            not (b.t < a.e) and not (form.order[i].point == form.order[k].point and b.n < a.n)
            for x, (a, i) in enumerate(one)
            for b, k in one[x + 1 :]
        ):
            yield list(one)


def _attempts(form: plan.Order, edges: list[tuple[Span, int]], known: dict[str, int] | None) -> Says:
    starts = [x for x, (_, k) in enumerate(edges) if k == 0]
    if not starts:
        return FAIL if known is None else CUT
    if form.attempt == "first":
        return _attempt(form, edges[starts[0] :], known)
    parts = [edges[a:b] for a, b in pairwise([*starts, len(edges)])]
    if form.attempt == "last":
        return _attempt(form, parts[-1], known)
    answers = [_attempt(form, part, known if x == len(parts) - 1 else None) for x, part in enumerate(parts)]
    return FAIL if FAIL in answers else next((answer for answer in answers if answer != PASS), PASS)


def _attempt(form: plan.Order, edges: list[tuple[Span, int]], known: dict[str, int] | None) -> Says:
    answers = [PASS]
    for k in range(len(form.order)):
        limit = form.gaps[k - 1] if k and form.gaps else None
        if k >= len(edges):
            most = None if limit is None else limit.range.high
            late = most is not None and known is not None and known[form.order[k].point] - edges[k - 1][0].t >= most
            answers.append(FAIL if late or known is None else CUT)
            break
        if edges[k][1] != k:
            answers.append(FAIL)
            break
        if limit is not None:
            before, here = edges[k - 1][0], edges[k][0]
            answers.append(judged(here.e - before.t, here.t - before.e, (limit.range.low or None, limit.range.high)))
    return FAIL if FAIL in answers else next((answer for answer in answers if answer != PASS), PASS)


def times(scope: Scope, form: plan.Times) -> Says:
    """Counts the edges, of the scope or of every window that one of them opens."""
    log, want, limit = scope.log, form.times, (form.count.range.low, form.count.range.high)
    edges = log.edges("point", want.point, want.state, scope.first, scope.last + 1)
    broken = [n for n in range(scope.first + 1, scope.last + 1) if log.breaks(want.point, n)]
    if form.per is None:
        if limit[1] is not None and len(edges) > limit[1]:
            return FAIL
        if scope.monitor and not edges:
            return either(combined(scope, []), UNSEEN) if broken else combined(scope, [])
        if broken:
            return UNSEEN
        return CUT if scope.cut else judged(len(edges), len(edges), limit)
    answers = [_window(scope, form, edge, edges, broken) for edge in edges]
    if broken and not scope.monitor:
        return FAIL if FAIL in answers else UNSEEN if edges else either(combined(scope, []), UNSEEN)
    return combined(scope, [answer for answer in answers if answer is not None])


def _window(scope: Scope, form: plan.Times, opener: Span, edges: list[Span], broken: list[int]) -> Says | None:
    log, per, limit = scope.log, form.per or 0, (form.count.range.low, form.count.range.high)
    sure = perhaps = 0
    for n in range(opener.n, scope.last + 1):
        if n in broken:
            return None if scope.monitor else UNSEEN
        later = [edge for edge in edges if opener.n <= edge.n <= n]
        sure = sum(edge is opener or edge.t - opener.e <= per for edge in later)
        perhaps = sum(edge is opener or edge.e - opener.t <= per for edge in later)
        if limit[1] is not None and sure > limit[1]:
            return FAIL
        if log.told(n + 1) - log.width(form.times.point) >= opener.t + per:
            return judged(sure, perhaps, limit)
    answer = judged(sure, perhaps, (None, limit[1]))
    if answer == PASS and limit[0] is not None and sure < limit[0]:
        return CUT
    return answer


def reads(scope: Scope, form: plan.Reads) -> Says:  # noqa: PLR0911 - one rule a line
    """The reading that counts, or all of them."""
    log, bounds = scope.log, scope.log.bounds[form.reads]
    limit = (form.limit.range.low, form.limit.range.high)
    readings = [
        line for line in log.lines[: scope.last + 1] if isinstance(line, event.Reading) and line.point == form.reads
    ]
    inside = [line for line in readings if line.n > scope.first]
    begin, end = scope.begin.t, log.lines[min(scope.last, len(log.lines) - 1)].t
    broken = [n for n in range(scope.last + 1) if log.breaks(form.reads, n)]

    def value(line: event.Reading) -> Says:
        return judged(line.value - bounds.uncertainty, line.value + bounds.uncertainty, limit)

    if form.at == "throughout":
        answers = [value(line) for line in inside]
        if FAIL in answers:
            return FAIL
        if any(n > scope.first for n in broken):
            return either(UNSEEN, CUT) if scope.cut else UNSEEN
        moments = [begin, *(line.t for line in inside), end]
        if not inside or any(right - left > bounds.holds for left, right in pairwise(moments)):
            return either(UNSEEN, CUT) if scope.cut else UNSEEN
        return CUT if scope.cut else CLOSE if CLOSE in answers else PASS
    if form.at == "end":
        moment = end
        if scope.cut:
            return CUT
    else:
        anchor = step_anchor(scope)
        if anchor is None or end < anchor.t + form.at:
            return CUT
        moment = anchor.t + form.at
    before = [line for line in (readings if bounds.holds else inside) if line.t <= moment]
    if not before or (bounds.holds and moment - before[-1].t > bounds.holds):
        return UNSEEN
    if any(before[-1].n < n and log.told(n) < moment for n in broken):
        return UNSEEN
    return value(before[-1])


def ask(scope: Scope, form: plan.Ask) -> Says:
    """The first answer."""
    for line in scope.log.lines[scope.first : scope.last + 1]:
        if isinstance(line, event.Answer) and (line.sequence, line.id) == (scope.begin.sequence, form.id):
            return PASS if line.value == "yes" else FAIL
    return CUT
