"""``order``: the edges come one after the other."""

from __future__ import annotations

from stagecall.judge.anchors import STEP
from stagecall.judge.intervals import Mark, Place, difference, margin, place, time_limit
from stagecall.judge.watch import Context, Outcome, Watch, unverified
from stagecall.model import plan
from stagecall.model.sequence import Condition
from stagecall.model.verdict import Reason, Verdict
from stagecall.units import Range, show_range, show_time


class Order(Watch):
    """Follows one attempt after another; an attempt begins with the first element."""

    def __init__(self, form: plan.Order, context: Context) -> None:
        super().__init__(form, context)
        self.form = form
        self.wants = STEP
        self.gaps = [(None, None) if gap is None else time_limit(gap.range) for gap in form.gaps]
        self._width = max(self.world.width(one.point) for one in form.order)
        self._anchor = Mark(0, 0, -1)
        self._next = 0
        """The element that is due."""
        self._over = False
        """The attempt is complete or broken; nothing counts until the next one begins."""
        self._previous = Mark(0, 0, -1)
        self._early: tuple[Condition, Mark] | None = None
        """An edge out of turn, unless the one that was due turns out to have come together with it."""
        self._lines: tuple[int, ...] = ()
        self._doubt: Outcome | None = None
        """Of this attempt."""
        self._last: Outcome | None = None
        """Of the last attempt that is over; with ``each``, of the first that was in doubt."""
        self._observed: Range | None = None
        self._margin: float | None = None
        self._limit: Range | None = None
        self._attempts = self._lost = 0

    def limit(self) -> Range | None:
        return self._limit

    def must_see(self) -> tuple[str, ...]:
        return tuple(dict.fromkeys(one.point for one in self.form.order))

    def anchored(self, mark: Mark) -> None:
        self._anchor = mark

    # -- what happens ---------------------------------------------------------------------------------------------

    def change(self, key: str, state: str, e: int, t: int, n: int) -> None:
        came = Condition(key, state)
        if t < self._anchor.e or came not in self.form.order:
            return
        mark = Mark(e, t, n)
        if self._early is not None and e > self._early[1].t:
            self._out_of_turn(n)
            if self.outcome is not None:
                return
        restarts = came == self.form.order[0] and self.form.attempt != "first"
        if self._over:
            if restarts:
                self._start()
                self._accept(came, mark)
        elif came == self.form.order[self._next]:
            self._accept(came, mark)
        elif restarts:
            self._start()
            self._accept(came, mark)
        elif self._early is None and (self._next > 0 or self._strict):
            self._early = came, mark

    def _start(self) -> None:
        self._next, self._over, self._early, self._doubt, self._lines = 0, False, None, None, ()

    def _accept(self, came: Condition, mark: Mark) -> None:
        if self._next == 0:
            self._attempts += 1
        else:
            self._compare(came, mark)
        if self._over or self.outcome is not None:
            return
        self._previous, self._next = mark, self._next + 1
        self._lines = (*self._lines, mark.n)
        if self._next == len(self.form.order):
            self._close(self._doubt or Outcome(Verdict.PASS))
        elif self._early is not None and self._early[0] == self.form.order[self._next]:
            (came, mark), self._early = self._early, None
            self._accept(came, mark)

    def _compare(self, came: Condition, mark: Mark) -> None:
        before = self.form.order[self._next - 1]
        if mark.e <= self._previous.t and came.point != before.point:
            self._doubtful(f"{before} and {came} came together")
        if not self.gaps or self.form.gaps[self._next - 1] is None:
            return
        low, high = self.gaps[self._next - 1]
        least, most = difference(mark, self._previous)
        where = place(least, most, low, high)
        worst = margin(least, most, low, high)
        limit = self.form.gaps[self._next - 1]
        if limit is not None and worst is not None and (self._margin is None or worst < self._margin):
            self._observed, self._margin, self._limit = Range(least, most), worst, limit.range
        if where is Place.OUTSIDE and limit is not None:
            after = show_time(least if high is not None and least > high else most)
            self._break(f"{came} came {after} after {before}, not {show_range(limit.range, 'time')}", mark.n)
        elif where is Place.ACROSS:
            self._doubtful(f"{came} on the edge of its limit after {before}")

    def _doubtful(self, detail: str) -> None:
        self._doubt = self._doubt or unverified(Reason.TOO_CLOSE, detail)

    def _out_of_turn(self, n: int) -> None:
        if self._early is None:
            return
        (came, mark), self._early = self._early, None
        self._break(f"{came} came before {self.form.order[self._next]}", mark.n)

    def _break(self, detail: str, n: int) -> None:
        self._lines = (*self._lines, n)
        self._attempts = max(1, self._attempts)
        self._close(Outcome(Verdict.FAIL, None, detail))

    def _close(self, attempt: Outcome) -> None:
        """An attempt is complete or broken."""
        self._over, self._early = True, None
        told = self._told(attempt, self._lines)
        match self.form.attempt:
            case "first":
                self.outcome = told
            case "last":
                self._last = told
            case "each":
                if told.verdict is Verdict.FAIL:
                    self.outcome = told
                elif self._last is None or self._last.verdict is Verdict.PASS:
                    self._last = told

    def _told(self, attempt: Outcome, lines: tuple[int, ...]) -> Outcome:
        return Outcome(
            attempt.verdict, attempt.reason, attempt.detail, self._observed, self._margin, lines=lines,
            remark=f"{self._lost} across a gap not counted" if self._lost else "",
            instances=None if self.form.attempt == "first" else self._attempts,
            failed=None if self.form.attempt == "first" else int(attempt.verdict is Verdict.FAIL),
        )  # fmt: skip

    def settled(self, s: int, n: int) -> None:
        if self._early is not None and s - self._width >= self._early[1].t:
            self._out_of_turn(n)
        if self.outcome is None and self._running and self.gaps:
            high = self.gaps[self._next - 1][1]
            due = self.form.order[self._next]
            if high is not None and s - self.world.width(due.point) - self._previous.t >= high:
                self._break(f"{due} did not come within {show_time(high)}", n)

    @property
    def _strict(self) -> bool:
        """Nothing listed may come before the first element: a step expects its one attempt from its begin on."""
        return self.form.attempt == "first" and not self.context.monitor

    @property
    def _running(self) -> bool:
        return self._next > 0 and not self._over

    def gap(self, mark: Mark, points: frozenset[str] | None) -> None:
        if points is not None and points.isdisjoint(self.must_see()):
            return
        if self.context.monitor:
            self._lost += self._running
            self._start()
        else:
            self.outcome = unverified(Reason.NOT_OBSERVED, "a gap in the record", lines=(*self._lines, mark.n))

    def end(self, s: int, n: int, cut: str) -> None:
        self.settled(s, n)
        if self.outcome is not None:
            return
        monitor = self.context.monitor
        if self._over or (monitor and self._last is not None and not self._running):
            self.outcome = self._last
        elif monitor and not self._running:
            self.outcome = Outcome(
                Verdict.NOT_VERIFIED, Reason.NEVER_CAME_UP, instances=0, failed=0, counted=self.context.must_run
            )
        elif cut or monitor:
            self.outcome = unverified(Reason.CUT_SHORT, cut or "the log ended first", lines=(*self._lines, n))
        else:
            due = self.form.order[self._next]
            failed = Outcome(Verdict.FAIL, None, f"{due} did not come before the step's end")
            self.outcome = self._told(failed, (*self._lines, n))

    def open(self) -> bool:
        highs = [high for _, high in self.gaps]
        return not self._over and len(highs) == len(self.form.order) - 1 and None not in highs

    def deadline(self) -> int | None:
        if not self._running:
            return None
        bound = self._previous.t
        for (_, high), due in zip(self.gaps[self._next - 1 :], self.form.order[self._next :], strict=False):
            bound += (high or 0) + self.world.width(due.point)
        return bound

    def closing_open(self) -> bool:
        return self._running and self.open()
