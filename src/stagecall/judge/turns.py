"""``turns``: the point changes to the state within the limit, counted from the anchor."""

from __future__ import annotations

from stagecall.judge.anchored import Anchored, Instance
from stagecall.judge.intervals import Mark, Place, difference, margin, place, time_limit
from stagecall.judge.watch import NEVER, Context, Outcome, not_applicable, said, unverified
from stagecall.model import plan
from stagecall.model.verdict import Reason, Verdict
from stagecall.units import Range, show_range, show_time


class Turns(Anchored):
    """Watches for one response, or for one after each trigger."""

    def __init__(self, form: plan.Turns, context: Context) -> None:
        super().__init__(form, (form.turns.point, form.turns.state), context)
        self.form = form
        self.low, self.high = time_limit(form.within.range)
        self.width = self.world.width(form.turns.point)
        self._late: Mark | None = None
        """The last anchor whose instance passed with the response still to come."""

    def limit(self) -> Range | None:
        return self.form.within.range

    def windowed(self) -> bool:
        return self.high is not None

    def make(self, mark: Mark, state: str) -> Instance:
        return Response(self, mark, state)

    def judge(self, anchor: Mark, response: Mark) -> Outcome:
        """What a response is worth."""
        least, most = difference(response, anchor)
        where = place(least, most, self.low, self.high)
        straddles = response.e <= anchor.t
        if straddles and place(max(0, least), most, self.low, self.high) is not Place.INSIDE:
            where = Place.ACROSS
        limit = self.form.within.range
        observed, worst = Range(least, most), margin(least, most, self.low, self.high)
        lines = (anchor.n, response.n)
        if where is Place.OUTSIDE:
            seen = show_time(least if self.high is not None and least > self.high else most)
            return Outcome(
                Verdict.FAIL, None, f"came after {seen}, not {show_range(limit, 'time')}", observed, worst, lines=lines
            )
        if where is Place.ACROSS:
            detail = "perhaps before its cause" if straddles else "on the edge of the limit"
            return Outcome(Verdict.NOT_VERIFIED, Reason.TOO_CLOSE, detail, observed, worst, lines=lines)
        usual = None
        if self.form.usual is not None:
            usual = place(least, most, *time_limit(self.form.usual)) is Place.INSIDE
        return Outcome(Verdict.PASS, None, "", observed, worst, usual, lines=lines)

    def finished(self, outcome: Outcome) -> Outcome:
        if not self.each and outcome.usual is False:
            return _with_remark(outcome)
        return outcome

    def change(self, key: str, state: str, e: int, t: int, n: int) -> None:
        if self._late is not None and key == self.goal[0] and state == self.goal[1]:
            self._tally.compare(self.judge(self._late, Mark(e, t, n)))
            self._late = None
        super().change(key, state, e, t, n)

    def gap(self, mark: Mark, points: frozenset[str] | None) -> None:
        self._late = None
        super().gap(mark, points)

    def closing(self, instance: Instance) -> None:
        if self.each and isinstance(instance, Response) and instance.response is None:
            self._late = instance.anchor if _passed(instance.outcome) else None


def _passed(outcome: Outcome | None) -> bool:
    return outcome is not None and outcome.verdict is Verdict.PASS


def _with_remark(outcome: Outcome) -> Outcome:
    return Outcome(
        outcome.verdict, None, outcome.detail, outcome.observed, outcome.margin, False, "passed, outside usual",
        outcome.lines,
    )  # fmt: skip


class Response:
    """Waits for one response to one anchor."""

    __slots__ = ("_checked", "_state", "_watch", "anchor", "outcome", "response")

    def __init__(self, watch: Turns, anchor: Mark, state: str) -> None:
        self._watch, self.anchor, self._state = watch, anchor, state
        self._checked = False
        self.outcome: Outcome | None = None
        self.response: Mark | None = None

    def target(self, state: str, e: int, t: int, n: int) -> None:
        if self.outcome is not None:
            return
        if t < self.anchor.e:
            self._state = state
            return
        if e > self.anchor.t:
            self.caught_up()
        self._checked = True  # leaving the state on the edge of the anchor, it was not surely so
        self._state = state
        if self.outcome is None and state == self._watch.goal[1]:
            self.response = Mark(e, t, n)
            self.outcome = self._watch.judge(self.anchor, self.response)

    def caught_up(self) -> None:
        if self._checked or self.outcome is not None:
            return
        self._checked = True
        point, goal = self._watch.goal
        if self._state == goal:
            self.outcome = unverified(Reason.ALREADY_SO, f"{said(point)} was {goal} already", lines=(self.anchor.n,))

    def until(self, e: int, t: int, n: int) -> None:
        """A response has no such end."""

    def unless(self, holds: bool, e: int, t: int, n: int) -> None:
        if holds and self.outcome is None:
            self.outcome = not_applicable("set aside while it was open")

    def settled(self, s: int, n: int) -> None:
        watch = self._watch
        if self.outcome is not None:
            return
        waited = s - watch.width - self.anchor.t
        if watch.high is not None and waited >= watch.high:
            self.outcome = self._absent(f"did not come within {show_time(watch.high)}", n)
        elif watch.each and watch.high is None and waited >= (watch.low or 0):
            self.outcome = Outcome(Verdict.PASS, lines=(self.anchor.n, n))

    def idle_until(self) -> float:
        deadline = self.deadline()
        return NEVER if deadline is None else deadline

    def end(self, s: int, n: int, cut: str) -> None:
        if cut:
            self.outcome = unverified(Reason.CUT_SHORT, cut, lines=(self.anchor.n, n))
        elif self._watch.each:
            what = "log" if self._watch.context.monitor else "step"
            self.outcome = unverified(Reason.CUT_SHORT, f"the {what} ended first", lines=(self.anchor.n, n))
        else:
            self.outcome = self._absent("did not come before the step's end", n)

    def _absent(self, detail: str, n: int) -> Outcome:
        return Outcome(Verdict.FAIL, None, detail, lines=(self.anchor.n, n))

    def deadline(self) -> int | None:
        watch = self._watch
        bound = watch.high if watch.high is not None else (watch.low or 0) if watch.each else None
        return None if bound is None else self.anchor.t + bound + watch.width
