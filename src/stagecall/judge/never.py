"""``never``: the conditions never hold together longer than is tolerated. Three-valued: true, false, not known."""

from __future__ import annotations

from stagecall.judge.intervals import Mark
from stagecall.judge.watch import Context, Outcome, Unless, Watch, blinded, said, tolerance, unverified
from stagecall.model import plan
from stagecall.model.verdict import Reason, Verdict
from stagecall.units import Range, show_time


class _Member:
    """One condition: whether it holds (None: not known), and the interval in which that began."""

    __slots__ = ("e", "holds", "key", "state", "t")

    def __init__(self, key: str, state: str) -> None:
        self.key, self.state = key, state
        self.holds: bool | None = None
        self.e = self.t = 0

    def turn(self, holds: bool | None, e: int, t: int) -> bool:
        """Take the new value; whether it is one."""
        if holds is self.holds:
            return False
        if not (self.holds and holds is None) and not (self.holds is None and holds):
            self.e = e  # what was true and is lost from sight, or found again, is perhaps true since it began
        self.holds, self.t = holds, t
        return True


class _Stretch:
    """A time all hold together, grown over partings shorter than the tolerance; ms."""

    __slots__ = ("last", "open", "opened", "start")

    def __init__(self) -> None:
        self.open = False
        self.start = self.opened = 0
        self.last: int | None = None

    def begin(self, moment: int, tolerate: int) -> bool:
        """Open at *moment*; whether it is a new one."""
        fresh = self.last is None or moment - self.last >= tolerate
        if fresh:
            self.start = moment
        self.open, self.opened = True, moment
        return fresh

    def finish(self, moment: int) -> int:
        """Close at *moment*; its length, 0 where there was none."""
        self.open = False
        if moment <= self.opened:
            return 0
        self.last = moment
        return moment - self.start


class Never(Watch):
    """Keeps the stretch in which all surely hold, and the one in which all perhaps do."""

    def __init__(self, form: plan.Never, context: Context) -> None:
        super().__init__(form, context)
        self.form = form
        self._unless = Unless(form.unless, self.world)
        self._members = [_Member(one.point, one.state) for one in form.never]
        if form.unless:
            self._members.append(_Member("", ""))
        names = [one.point for one in form.never]
        self._blind = max(self.world.blind(name) for name in names)
        self._tolerate = tolerance(form.tolerate, self._blind)
        self._width = max(self._unless.width, *(self.world.width(name) for name in names))
        self._sure, self._maybe = _Stretch(), _Stretch()
        self._longest_sure = self._longest_maybe = 0
        self._dark: str = ""
        """A point that was not known while all perhaps held."""
        self._doubt: Outcome | None = None
        self._instances = 0
        self._fresh = False
        self._opened = -1

    def limit(self) -> Range | None:
        return Range(None, self._tolerate)

    def keys(self) -> tuple[str, ...]:
        return (*(member.key for member in self._members if member.key), *self._unless.keys)

    # -- what happens ---------------------------------------------------------------------------------------------

    def begin(self, mark: Mark) -> None:
        self._unless.read(self.world)
        for member in self._members:
            state = self.world.state(member.key) if member.key else None
            member.holds = (state == member.state) if state is not None else None
            if not member.key:
                member.holds = not self._unless.suspends
            member.e = member.t = mark.t
        self._follow(mark, was_sure=False, was_maybe=False)

    def change(self, key: str, state: str, e: int, t: int, n: int) -> None:
        was_sure, was_maybe = self._sure.open, self._maybe.open
        changed = rose = False
        for member in self._members:
            if member.key == key and member.turn(state == member.state, e, t):
                changed, rose = True, rose or member.holds is True
        if key in self._unless.states:
            self._unless.states[key] = state
            changed, rose = self._suspend(Mark(e, t, n)) or changed, True
        if changed:
            self._follow(Mark(e, t, n), was_sure=was_sure, was_maybe=was_maybe)
            if rose and not self._maybe.open:
                self._overlap(n)

    def _suspend(self, mark: Mark) -> bool:
        """Keep the member that stands for ``unless``: its time is not judged as soon and as long as it may hold."""
        if not self.form.unless:
            return False
        free = not self._unless.suspends
        moment = mark.t if free else mark.e
        return self._members[-1].turn(free, moment, moment)

    def _follow(self, mark: Mark, *, was_sure: bool, was_maybe: bool) -> None:
        sure = maybe = True
        for member in self._members:
            if member.holds is not True:
                sure = False
                if member.holds is False:
                    maybe = False
                    break
        if was_sure and not sure:
            self._close_sure(mark)
        if was_maybe and not maybe:
            self._close_maybe(min(one.t for one in self._members if one.holds is False), mark.n)
        if self.outcome is not None or not maybe:
            return
        if not was_maybe:
            if self._maybe.begin(max(member.e for member in self._members), self._tolerate):
                self._fresh, self._dark = True, ""
            self._opened = mark.n
        if sure and not was_sure:
            self._sure.begin(max(member.t for member in self._members), self._tolerate)
        if not sure and not self._dark:
            self._dark = next(member.key for member in self._members if member.holds is None)

    def _overlap(self, n: int) -> None:
        """All may have held for a moment, where the edge that ended one and the edge that began another overlap."""
        start = max(member.e for member in self._members if member.holds is not False)
        stop = min(member.t for member in self._members if member.holds is False)
        if stop > start:
            if self._maybe.begin(start, self._tolerate):
                self._fresh, self._dark = True, ""
            self._close_maybe(stop, n)

    def _close_sure(self, mark: Mark) -> None:
        length = self._sure.finish(mark.e)
        self._longest_sure = max(self._longest_sure, length)
        if length > self._tolerate:
            self._fail(Range(length, mark.t - self._maybe.start), mark.n)

    def _close_maybe(self, moment: int, n: int) -> None:
        length = self._maybe.finish(moment)
        self._longest_maybe = max(self._longest_maybe, length)
        if self._fresh and length:
            self._instances, self._fresh = self._instances + 1, False
        if length > self._tolerate and self.outcome is None:
            self._perhaps(length, n)

    def _perhaps(self, length: int, n: int) -> None:
        lines = tuple(dict.fromkeys((self._opened, n)))
        if self._dark:
            doubt = unverified(Reason.NOT_OBSERVED, f"{said(self._dark)} was not known", lines=lines)
        else:
            detail = f"perhaps together for {show_time(length)}"
            doubt = unverified(Reason.TOO_CLOSE, detail, lines=lines, observed=Range(0, length))
        self._doubt = self._doubt or doubt

    def _fail(self, observed: Range, n: int) -> None:
        together = " and ".join(str(one) for one in self.form.never)
        worst = None if observed.high is None else self._tolerate - observed.high
        failed = Outcome(
            Verdict.FAIL, None, f"{together} together", observed, worst, lines=(self._opened, n),
            instances=max(1, self._instances), failed=1,
        )  # fmt: skip
        self.outcome = self._unless.blame(failed)

    def settled(self, s: int, n: int) -> None:
        sure = s - self._width
        if self._sure.open and sure >= self._sure.opened and sure - self._sure.start >= self._tolerate:
            self._fail(Range(sure - self._sure.start, None), n)

    def gap(self, mark: Mark, points: frozenset[str] | None) -> None:
        was_sure, was_maybe = self._sure.open, self._maybe.open
        self._unless.forget(points)
        changed = self._suspend(mark)
        for member in self._members:
            if member.key and member.key in self.world.points and (points is None or member.key in points):
                changed = member.turn(None, mark.e, mark.t) or changed
        if changed:
            self._follow(mark, was_sure=was_sure, was_maybe=was_maybe)

    def snapshot(self, t: int, n: int) -> None:
        was_sure, was_maybe = self._sure.open, self._maybe.open
        self._unless.read(self.world)
        changed = self._suspend(Mark(t, t, n))
        for member in self._members:
            if member.key and (state := self.world.state(member.key)) is not None:
                changed = member.turn(state == member.state, t, t) or changed
        if changed:
            self._follow(Mark(t, t, n), was_sure=was_sure, was_maybe=was_maybe)

    def end(self, s: int, n: int, cut: str) -> None:
        self.settled(s, n)
        if self.outcome is not None:
            return
        if self._maybe.open:
            self._close_maybe(s, n)
        if self._doubt is not None:
            self.outcome = self._doubt
        elif cut:
            self.outcome = unverified(Reason.CUT_SHORT, cut, lines=(n,))
        else:
            most = self._longest_maybe
            passed = Outcome(
                Verdict.PASS, None, "", Range(self._longest_sure, most), self._tolerate - most,
                lines=(n,), instances=self._instances, failed=0,
            )  # fmt: skip
            self.outcome = blinded(passed, self.form.tolerate, self._blind)
