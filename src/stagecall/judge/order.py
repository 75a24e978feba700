"""``order``: the edges come one after the other."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from stagecall.judge.anchors import STEP
from stagecall.judge.intervals import Mark, Place, difference, margin, place, time_limit
from stagecall.judge.watch import NEVER, Context, Outcome, Watch, unverified
from stagecall.model import plan
from stagecall.model.sequence import Condition
from stagecall.model.verdict import Reason, Verdict
from stagecall.units import Range, show_range, show_time

MOST_TOGETHER = 6
"""So many overlapping edges are still tried in every order; more are too close to call."""


class _Came(NamedTuple):
    """A listed edge."""

    what: Condition
    mark: Mark


class _Attempt(NamedTuple):
    """How far the attempts have come, in one of the orders that are possible.

    ``due``: the element that is due, of the attempt that runs; ``running``: one has begun and is neither complete nor
    broken; ``close``: a gap of it is too close to call. ``result``: what the attempts that are over came to.
    """

    due: int = 0
    running: bool = False
    previous: Mark = Mark(0, 0, -1)
    close: bool = False
    lines: tuple[int, ...] = ()
    result: Outcome | None = None


class Order(Watch):
    """Follows the attempts; an attempt begins with the first element. Overlapping edges are tried in every order."""

    def __init__(self, form: plan.Order, context: Context) -> None:
        super().__init__(form, context)
        self.form = form
        self.wants = STEP
        self.gaps = [None if gap is None else time_limit(gap.range) for gap in form.gaps] or [None] * (
            len(form.order) - 1
        )
        self.bounded = all(gap is not None and gap[1] is not None for gap in self.gaps)
        self._width = max(self.world.width(one.point) for one in form.order)
        self._anchor = Mark(0, 0, -1)
        self._attempts = [_Attempt()]
        self._together: list[_Came] = []
        """Edges that overlap, and that an edge still to come may overlap."""
        self._worst: tuple[Range, float, Range] | None = None
        """The gap with the smallest margin: observed, margin, limit."""
        self._lost = 0

    def limit(self) -> Range | None:
        return None if self._worst is None else self._worst[2]

    def must_see(self) -> tuple[str, ...]:
        return tuple(dict.fromkeys(one.point for one in self.form.order))

    def anchored(self, mark: Mark) -> None:
        self._anchor = mark

    # -- what happens ---------------------------------------------------------------------------------------------

    def change(self, key: str, state: str, e: int, t: int, n: int) -> None:
        came = _Came(Condition(key, state), Mark(e, t, n))
        if t < self._anchor.e or came.what not in self.form.order:
            return
        if self._together and e > self._together[-1].mark.t:
            self._commit()
        self._together.append(came)
        if self.outcome is None and len(self._together) > MOST_TOGETHER:
            self.outcome = unverified(Reason.TOO_CLOSE, "too many edges together", lines=(n,))

    def _commit(self) -> None:
        """No edge to come can overlap those together: try them in every order."""
        together, self._together = self._together, []
        tried: dict[tuple[object, ...], _Attempt] = {}
        for order in _orders(together):
            for attempt in self._attempts:
                for came in order:
                    attempt = self._follow(attempt, came)  # noqa: PLW2901 - that is what following means
                verdict = None if attempt.result is None else attempt.result.verdict
                tried.setdefault((attempt.due, attempt.running, attempt.previous, attempt.close, verdict), attempt)
        self._attempts = list(tried.values())
        self._decide()

    def _decide(self) -> None:
        """Settle where the verdict is certain whatever comes."""
        results = [attempt.result for attempt in self._attempts if self._certain(attempt)]
        if len(results) == len(self._attempts):
            self.outcome = self._agreed([result for result in results if result is not None])

    def _certain(self, attempt: _Attempt) -> bool:
        if attempt.result is None or self.form.attempt == "last":
            return False
        return self.form.attempt == "first" or attempt.result.verdict is Verdict.FAIL

    def _agreed(self, results: list[Outcome]) -> Outcome:
        first = results[0]
        if any((one.verdict, one.reason) != (first.verdict, first.reason) for one in results):
            lines = tuple(sorted({n for one in results for n in one.lines}))
            first = unverified(Reason.TOO_CLOSE, "edges came together", lines=lines)
        observed, worst = (None, None) if self._worst is None else self._worst[:2]
        return Outcome(
            first.verdict, first.reason, first.detail, observed, worst, lines=first.lines,
            remark=f"{self._lost} across a gap not counted" if self._lost else "",
        )  # fmt: skip

    # -- one order ------------------------------------------------------------------------------------------------

    def _follow(self, attempt: _Attempt, came: _Came) -> _Attempt:
        if self.form.attempt == "first" and attempt.result is not None:
            return attempt
        due = self.form.order[attempt.due] if attempt.running else self.form.order[0]
        if came.what == due:
            return self._accept(attempt, came)
        if not attempt.running:
            return attempt
        if came.what == self.form.order[0] and self.form.attempt != "first":
            if self.form.attempt == "each":
                attempt = self._broken(attempt, f"began again before {due}", came.mark.n)
            return self._accept(attempt._replace(running=False), came)
        return self._broken(attempt, f"{came.what} came before {due}", came.mark.n)

    def _accept(self, attempt: _Attempt, came: _Came) -> _Attempt:
        if not attempt.running:
            attempt = attempt._replace(due=0, running=True, close=False, lines=())
        elif (gap := self.gaps[attempt.due - 1]) is not None:
            least, most = difference(came.mark, attempt.previous)
            self._measure(attempt.due - 1, least, most)
            where = place(least, most, *gap)
            if where is Place.OUTSIDE:
                after = show_time(least if gap[1] is not None and least > gap[1] else most)
                return self._broken(attempt, f"{came.what} came after {after}{self._asked(attempt)}", came.mark.n)
            attempt = attempt._replace(close=attempt.close or where is Place.ACROSS)
        attempt = attempt._replace(due=attempt.due + 1, previous=came.mark, lines=(*attempt.lines, came.mark.n))
        if attempt.due < len(self.form.order):
            return attempt
        if attempt.close:
            return self._over(
                attempt, unverified(Reason.TOO_CLOSE, "a gap on the edge of its limit", lines=attempt.lines)
            )
        return self._over(attempt, Outcome(Verdict.PASS, lines=attempt.lines))

    def _asked(self, attempt: _Attempt) -> str:
        limit = self.form.gaps[attempt.due - 1]
        return "" if limit is None else f", not {show_range(limit.range, 'time')}"

    def _measure(self, k: int, least: int, most: int) -> None:
        limit, gap = self.form.gaps[k], self.gaps[k]
        worst = None if gap is None else margin(least, most, *gap)
        if limit is not None and worst is not None and (self._worst is None or worst < self._worst[1]):
            self._worst = Range(least, most), worst, limit.range

    def _broken(self, attempt: _Attempt, detail: str, n: int) -> _Attempt:
        return self._over(attempt, Outcome(Verdict.FAIL, None, detail, lines=(*attempt.lines, n)))

    def _over(self, attempt: _Attempt, result: Outcome) -> _Attempt:
        kept = attempt.result
        if self.form.attempt == "each" and kept is not None and kept.verdict is not Verdict.PASS:
            result = kept if result.verdict is not Verdict.FAIL else result
        return attempt._replace(running=False, due=0, result=result)

    # -- time -----------------------------------------------------------------------------------------------------

    def settled(self, s: int, n: int) -> None:
        if self._together and s - self._width >= self._together[-1].mark.t:
            self._commit()
        if self._together or self.outcome is not None:
            return
        self._attempts = [self._timed_out(attempt, s, n) for attempt in self._attempts]
        self._decide()

    def idle_until(self) -> float:
        if self._together:
            return self._together[-1].mark.t + self._width
        return min([self._times_out(attempt) for attempt in self._attempts], default=NEVER)

    def _times_out(self, attempt: _Attempt) -> float:
        gap = self.gaps[attempt.due - 1] if attempt.running else None
        if gap is None or gap[1] is None:
            return NEVER
        return attempt.previous.t + gap[1] + self.world.width(self.form.order[attempt.due].point)

    def _timed_out(self, attempt: _Attempt, s: int, n: int) -> _Attempt:
        gap = self.gaps[attempt.due - 1]
        if s < self._times_out(attempt) or gap is None:
            return attempt
        due = self.form.order[attempt.due]
        return self._broken(attempt, f"{due} did not come within {show_time(gap[1] or 0)}", n)

    def gap(self, mark: Mark, points: frozenset[str] | None) -> None:
        if points is not None and points.isdisjoint(self.must_see()):
            return
        if self._together:
            self._commit()
        if self.outcome is not None:
            return
        if self.context.monitor:
            self._lost += any(attempt.running for attempt in self._attempts)
            self._attempts = [attempt._replace(running=False, due=0) for attempt in self._attempts]
        else:
            self.outcome = unverified(Reason.NOT_OBSERVED, "a gap in the record", lines=(mark.n,))

    def end(self, s: int, n: int, cut: str) -> None:
        self.settled(s, n)
        if self._together and self.outcome is None:
            self._commit()
        if self.outcome is None:
            self.outcome = self._agreed([self._ended(attempt, n, cut) for attempt in self._attempts])

    def _ended(self, attempt: _Attempt, n: int, cut: str) -> Outcome:
        monitor = self.context.monitor
        if not attempt.running:
            if attempt.result is not None:
                return attempt.result
            if monitor:
                return Outcome(Verdict.NOT_VERIFIED, Reason.NEVER_CAME_UP, cut, counted=self.context.must_run)
        lines = (*attempt.lines, n)
        if cut or monitor:
            return unverified(Reason.CUT_SHORT, cut or "the log ended first", lines=lines)
        due = self.form.order[attempt.due]
        return Outcome(Verdict.FAIL, None, f"{due} did not come before the step's end", lines=lines)

    def open(self) -> bool:
        """Until one attempt is over, where all gaps have an upper end: a further attempt is not waited for."""
        return self.bounded and any(attempt.running or attempt.result is None for attempt in self._attempts)

    def deadline(self) -> int | None:
        if self._together or not all(attempt.running or attempt.result for attempt in self._attempts):
            return None
        return max((self._bound(attempt) for attempt in self._attempts if attempt.running), default=None)

    def _bound(self, attempt: _Attempt) -> int:
        bound = attempt.previous.t + self._width
        for gap, due in zip(self.gaps[attempt.due - 1 :], self.form.order[attempt.due :], strict=True):
            bound += (0 if gap is None else gap[1] or 0) + self.world.width(due.point)
        return bound

    def closing_open(self) -> bool:
        return self.bounded and any(attempt.running for attempt in self._attempts)


def _orders(together: list[_Came]) -> Iterator[list[_Came]]:
    """Every order in which the edges can have come; those of one point as they were logged."""
    if not together:
        yield []
    for k, first in enumerate(together):
        others = together[:k] + together[k + 1 :]
        if all(one.mark.t >= first.mark.e for one in others) and all(
            one.what.point != first.what.point for one in together[:k]
        ):
            for rest in _orders(others):
                yield [first, *rest]
