"""``stays``: the point keeps the state from ``anchor + begin`` on: for a length, until a condition, or to the end."""

from __future__ import annotations

from typing import ClassVar, NamedTuple

from stagecall.judge.anchored import Anchored, Instance
from stagecall.judge.intervals import Mark
from stagecall.judge.watch import NEVER, Context, Outcome, blinded, said, tolerance, unverified
from stagecall.model import plan
from stagecall.model.verdict import Reason, Verdict
from stagecall.units import Range


class Stays(Anchored):
    """Watches one stretch, or one after each trigger."""

    drops: ClassVar[bool] = False

    def __init__(self, form: plan.Stays, context: Context) -> None:
        super().__init__(form, (form.stays.point, form.stays.state), context)
        self.form = form
        self.blind = self.world.blind(form.stays.point)
        self.tolerate = tolerance(form.tolerate, self.blind)
        self.width = self.world.width(form.stays.point)
        self.widest = max(self.width, self.unless.width)
        self.until_width = 0 if form.until is None else self.world.width(form.until.point)

    def limit(self) -> Range | None:
        return None if self.form.length is None else Range(self.form.length, None)

    def windowed(self) -> bool:
        return self.form.length is not None

    def make(self, mark: Mark, state: str) -> Instance:
        return Stretch(self, mark, state)

    def _settle(self, outcome: Outcome) -> None:
        super()._settle(blinded(outcome, self.form.tolerate, self.blind))


class _Charge(NamedTuple):
    """A fail that stands unless ``unless`` turns out to have held by ``sure``; by ``perhaps`` it is forgiven; ms."""

    sure: int
    perhaps: int
    fail: Outcome


class Stretch:
    """One stretch in which the state must hold.

    It begins in ``_from`` and ends in ``_to`` (None while not known), both intervals. ``_away`` is the change that left
    the state and has not returned; ``_inside`` whether that change lies surely inside the stretch.
    """

    __slots__ = (
        "_anchor", "_away", "_begun", "_charge", "_doubt", "_from", "_inside", "_left", "_set_aside", "_state", "_to",
        "_vouched", "_watch", "outcome",
    )  # fmt: skip

    def __init__(self, watch: Stays, anchor: Mark, state: str) -> None:
        self._watch, self._anchor, self._state = watch, anchor, state
        form = watch.form
        self._from = Mark(anchor.e + form.begin, anchor.t + form.begin, anchor.n)
        self._to: Mark | None = None
        if form.length is not None:
            self._to = Mark(self._from.e + form.length, self._from.t + form.length, anchor.n)
        self._vouched = -1 if watch.own else watch.changed
        """When the last change of the point besides the anchor was seen: till then it kept its state."""
        self._begun = False
        self._away: Mark | None = None
        self._inside = False
        self._left: Mark | None = None
        """A departure surely too long that waits for what ends the stretch, to be surely inside it."""
        self._charge: _Charge | None = None
        self._doubt: Outcome | None = None
        self._set_aside = watch.unless.suspends
        self.outcome: Outcome | None = None

    # -- changes --------------------------------------------------------------------------------------------------

    def target(self, state: str, e: int, t: int, n: int) -> None:
        goal = self._watch.goal[1]
        was, now = self._state == goal, state == goal
        if not self._begun and e > self._from.t:
            self._begin(n)
        if self.outcome is not None:
            return
        self._state, self._vouched = state, t
        if was == now or self._set_aside:
            if not now:
                self._overdue(t, t, n)
            return
        change = Mark(e, t, n)
        if self._begun:
            if now:
                self._return(change)
            else:
                self._depart(change, inside=e > self._from.t)
        elif now and t >= self._from.e:
            self._begun = True
            self._doubtful("perhaps not yet so when it had to be", (self._anchor.n, n))
        elif not now and t >= self._from.e:
            self._begun = True
            self._depart(change, inside=False)

    def caught_up(self) -> None:
        """Nothing to do: the begin is judged once it is settled."""

    def unless(self, holds: bool, e: int, t: int, n: int) -> None:
        if not self._begun and e > self._from.t:
            self._begin(n)
        self._set_aside = holds
        if self.outcome is not None:
            return
        if holds:
            if self._charge is not None and e <= self._charge.sure:
                if e > self._charge.perhaps:
                    self._doubtful("perhaps set aside in time", (*self._charge.fail.lines, n))
                self._charge = None
            if self._away is not None:
                self._return(Mark(e, e, n))
        elif self._begun and self._state != self._watch.goal[1]:
            self._depart(Mark(t, t, n), inside=t > self._from.t)

    def until(self, e: int, t: int, n: int) -> None:
        if self._watch.form.length is not None or self._to is not None or t < self._from.e or self.outcome is not None:
            return
        self._to = Mark(e, t, n)
        if self._left is not None:
            self._accuse(self._left, n)
        elif self._away is not None:
            self._inside, inside = False, self._inside
            if self._away.n == n or self._away.e >= t:
                self._away = None
            else:
                self._inside = inside and self._away.t < e

    def _begin(self, n: int) -> None:
        self._begun = True
        if self._bad:
            point, goal = self._watch.goal
            detail = f"{said(point)} was not {goal} when it had to be"
            fail = Outcome(Verdict.FAIL, None, detail, Range(0, 0), lines=(self._anchor.n, n))
            self._accept(_Charge(self._from.t, self._from.e, fail))

    def _accept(self, charge: _Charge) -> None:
        if not self._watch.unless.keys:
            self.outcome = charge.fail
        elif self._charge is None:
            self._charge = charge

    def _depart(self, change: Mark, *, inside: bool) -> None:
        if self._to is not None and change.e >= self._to.t:  # held exactly its length is held: limits are inclusive
            return
        self._away = change
        self._inside = inside and (self._to is None or change.t < self._to.e)

    def _return(self, change: Mark) -> None:
        away, self._away = self._away, None
        if away is None:
            return
        if self._inside and change.e - away.t > self._watch.tolerate:
            self._accuse(away, change.n)
        elif change.t - away.e > self._watch.tolerate:
            self._doubtful("perhaps away too long", (self._anchor.n, away.n, change.n))

    def _accuse(self, away: Mark, n: int) -> None:
        """*away* lasted surely too long; it is a fail if it lies surely inside the stretch."""
        to = self._to
        if to is None and self._watch.form.until is not None:
            self._left = self._left or away
        elif to is None or away.t < to.e:
            self._fail(away, n)
        elif away.e < to.t:
            self._doubtful("perhaps after it had to be so", (self._anchor.n, away.n, n))

    def _fail(self, away: Mark, n: int) -> None:
        point, goal = self._watch.goal
        held = Range(max(0, away.e - self._from.t), away.t - self._from.e)
        length = self._watch.form.length
        short = None if length is None or held.low is None else held.low - length
        detail = f"{said(point)} did not stay {goal}"
        fail = Outcome(Verdict.FAIL, None, detail, held, short, lines=(self._anchor.n, away.n, n))
        self._accept(_Charge(away.t + self._watch.tolerate, away.e + self._watch.tolerate, fail))

    def _doubtful(self, detail: str, lines: tuple[int, ...]) -> None:
        self._doubt = self._doubt or unverified(Reason.TOO_CLOSE, detail, lines=lines)

    # -- time -----------------------------------------------------------------------------------------------------

    def settled(self, s: int, n: int) -> None:
        if self.outcome is not None:
            return
        watch = self._watch
        if not self._begun and max(s - watch.width, self._vouched) >= self._from.t:
            self._begin(n)
        self._overdue(s - watch.width, s - watch.unless.width, n)
        if self._left is not None and self._to is None and s - watch.until_width >= self._left.t:
            self._fail(self._left, n)
            self._left = None
        if self._charge is not None and s - watch.unless.width >= self._charge.sure:
            self.outcome = self._charge.fail
        waits = not self._begun or self._away is not None or self._charge is not None
        if self.outcome is None and self._to is not None and not waits and self._reached(s):
            self.outcome = self._doubt or self._held(self._to, n)

    def idle_until(self) -> float:
        if not self._begun:
            return 0 if self._vouched >= self._from.t else self._from.t + self._watch.width
        if self._away is not None or self._left is not None or self._charge is not None:
            return 0
        return NEVER if self._to is None else self._to.t + self._watch.width

    def _overdue(self, sure: int, told: int, n: int) -> None:
        """The point was surely still away at *sure*; what is told later of it comes after *told*."""
        away, tolerate = self._away, self._watch.tolerate
        if away is None:
            return
        if self._inside and sure - away.t >= tolerate:
            self._away = None
            self._accuse(away, n)
        elif not self._inside and told - away.e >= tolerate:
            self._away = None
            self._doubtful("left on the edge of the time it had to be so", (self._anchor.n, away.n, n))

    def _held(self, to: Mark, n: int) -> Outcome:
        observed = self._watch.limit() or Range(max(0, to.e - self._from.t), to.t - self._from.e)
        return Outcome(Verdict.PASS, None, "", observed, lines=(self._anchor.n, n))

    def _reached(self, s: int) -> bool:
        """Whether the whole stretch was surely watched when all is told up to *s*."""
        return self._to is not None and s - self._watch.width >= self._to.t

    @property
    def _bad(self) -> bool:
        return self._state != self._watch.goal[1] and not self._set_aside

    def end(self, s: int, n: int, cut: str) -> None:
        lines = (self._anchor.n, n)
        if cut and not self._reached(s):
            self.outcome = unverified(Reason.CUT_SHORT, cut, lines=lines)
        elif s < self._from.t or (self._watch.form.length is not None and not self._reached(s)):
            self.outcome = unverified(Reason.CUT_SHORT, "the step ended before it had been so long enough", lines=lines)
        elif self._left is not None and not self._watch.unless.keys:
            self._fail(self._left, n)
        elif self._away or self._left or self._charge or (not self._begun and self._bad):
            self.outcome = unverified(Reason.TOO_CLOSE, "left just before the end", lines=lines)
        else:
            self.outcome = self._doubt or self._held(Mark(s, s, n), n)

    def deadline(self) -> int | None:
        if self._watch.form.length is None or self._to is None:
            return None
        return max(self._to.t + self._watch.tolerate, self._from.t) + self._watch.widest
