"""``times``: how often the point turns to the state, in all or in any window opened by such an edge."""

from __future__ import annotations

from collections import deque

from stagecall.judge.intervals import Mark, Place, margin, place
from stagecall.judge.watch import NEVER, Context, Outcome, Watch, blind_remark, unverified
from stagecall.model import plan
from stagecall.model.verdict import Reason, Verdict
from stagecall.units import Kind, Range, show_range, show_time


class _Window:
    """Edges counted from the one that opened it: those surely inside, and those perhaps."""

    __slots__ = ("maybe", "opened", "sure")

    def __init__(self, opened: Mark) -> None:
        self.opened = opened
        self.sure = self.maybe = 1


class Times(Watch):
    """Counts edges. Without ``per`` there is one window, which never closes before the end."""

    unit: Kind = "count"

    def __init__(self, form: plan.Times, context: Context) -> None:
        super().__init__(form, context)
        self.form = form
        self.low, self.high = form.count.range.low, form.count.range.high
        self._width = self.world.width(form.times.point)
        self._count = 0
        self._windows: deque[_Window] = deque()
        self._shown: tuple[int, int] | None = None
        """The window with the smallest margin so far."""
        self._doubt: Outcome | None = None
        self._gapped: Outcome | None = None
        self._lost = 0

    def limit(self) -> Range | None:
        return self.form.count.range

    def must_see(self) -> tuple[str, ...]:
        return (self.form.times.point,)

    def begin(self, mark: Mark) -> None:
        if self.world.state(self.form.times.point) is None and not self.context.monitor:
            self._gapped = unverified(Reason.NOT_OBSERVED, "a gap in the record", lines=(mark.n,))

    def change(self, key: str, state: str, e: int, t: int, n: int) -> None:
        if state != self.form.times.state:
            return
        self._count += 1
        per = self.form.per
        if per is None:
            if self.high is not None and self._count > self.high:
                self._settle(Verdict.FAIL, (self._count, self._count), (n,))
            return
        self._close(e - per - 1, n)
        for window in self._windows:
            if e - window.opened.t <= per:
                window.maybe += 1
                window.sure += t - window.opened.e <= per
        self._windows.append(_Window(Mark(e, t, n)))
        if self.high is not None:
            for window in self._windows:
                if window.maybe > self.high and self.outcome is None:
                    self._judge(window, None, n)

    def _judge(self, window: _Window, low: float | None, n: int) -> None:
        counts = window.sure, window.maybe
        where = place(*counts, low, self.high)
        if where is Place.OUTSIDE:
            self._settle(Verdict.FAIL, counts, (window.opened.n, n))
        elif where is Place.ACROSS and self._doubt is None:
            self._doubt = unverified(
                Reason.TOO_CLOSE,
                "an edge on the edge of the window",
                lines=(window.opened.n, n),
                observed=Range(*counts),
            )

    def _close(self, moment: int, n: int) -> None:
        """No edge after *moment* counts for the windows that it has left behind."""
        while self._windows and self.outcome is None and self._windows[0].opened.t <= moment:
            window = self._windows.popleft()
            self._judge(window, self.low, n)
            self._show(window)

    def _show(self, window: _Window) -> None:
        counts = window.sure, window.maybe
        if self._shown is None or (self._margin(counts) or 0) < (self._margin(self._shown) or 0):
            self._shown = counts

    def _margin(self, counts: tuple[int, int]) -> float | None:
        return margin(*counts, self.low, self.high)

    def _settle(self, verdict: Verdict, counts: tuple[int, int], lines: tuple[int, ...]) -> None:
        detail = ""
        if verdict is Verdict.FAIL:
            window = "" if self.form.per is None else f" within {show_time(self.form.per)}"
            detail = f"{counts[0]} times{window}, not {show_range(self.form.count.range, 'count')}"
        remark = blind_remark(self.world.blind(self.form.times.point))
        if self._lost:
            lost = f"{self._lost} across a gap not counted"
            remark = f"{remark}; {lost}" if remark else lost
        self.outcome = Outcome(
            verdict, None, detail, Range(*counts), self._margin(counts), remark=remark, lines=lines,
            instances=self._count, failed=int(verdict is Verdict.FAIL),
        )  # fmt: skip

    def settled(self, s: int, n: int) -> None:
        if self.form.per is not None:
            self._close(s - self._width - self.form.per, n)

    def idle_until(self) -> float:
        if self.form.per is None or not self._windows:
            return NEVER
        return self._windows[0].opened.t + self._width + self.form.per

    def gap(self, mark: Mark, points: frozenset[str] | None) -> None:
        if points is not None and self.form.times.point not in points:
            return
        if self.form.per is not None and self.context.monitor:
            self._lost += len(self._windows)
        elif self._gapped is None:
            self._gapped = unverified(Reason.NOT_OBSERVED, "a gap in the record", lines=(mark.n,))
        self._windows.clear()

    def end(self, s: int, n: int, cut: str) -> None:
        self.settled(s, n)
        if self.outcome is not None:
            return
        context = self.context
        short = any(self.low is not None and window.sure < self.low for window in self._windows)
        for window in self._windows:
            self._show(window)
        lines = (n,)
        per = self.form.per is not None
        if self._gapped or self._doubt:
            self.outcome = self._gapped or self._doubt
        elif per and short:
            self.outcome = unverified(Reason.CUT_SHORT, cut or "a window was still open", lines=lines)
        elif context.monitor and self._shown is None and (per or not self._count):
            remark = f"{self._lost} across a gap not counted" if self._lost else ""
            self.outcome = Outcome(
                Verdict.NOT_VERIFIED, Reason.NEVER_CAME_UP, remark=remark, instances=0, failed=0, lines=lines,
                counted=context.must_run,
            )  # fmt: skip
        elif cut and (not per or self._shown is None):
            self.outcome = unverified(Reason.CUT_SHORT, cut, lines=lines)
        elif per and self._shown is None:
            self.outcome = unverified(Reason.NEVER_CAME_UP, f"{self.form.times} did not come", lines=lines)
        elif per:
            self._settle(Verdict.PASS, self._shown or (0, 0), lines)
        else:
            counts = self._count, self._count
            inside = place(*counts, self.low, self.high) is Place.INSIDE
            self._settle(Verdict.PASS if inside else Verdict.FAIL, counts, lines)
