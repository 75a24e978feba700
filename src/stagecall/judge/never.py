"""``never``: the conditions never hold together longer than is tolerated. Three-valued: true, false, not known."""

from __future__ import annotations

from stagecall.judge.intervals import Mark
from stagecall.judge.stretch import Stretches, Together
from stagecall.judge.watch import NEVER, Context, Outcome, Unless, Watch, blinded, said, tolerance, unverified
from stagecall.model import plan
from stagecall.model.verdict import Reason, Verdict
from stagecall.units import Range, show_time


class _Member:
    """One condition: whether it holds (None: not known), surely so since ``t``."""

    __slots__ = ("holds", "key", "rose", "state", "t")

    def __init__(self, key: str, state: str) -> None:
        self.key, self.state = key, state
        self.holds: bool | None = None
        self.t = 0
        self.rose = 0
        """When it came to hold at the earliest, the last time it did."""

    def turn(self, holds: bool | None, e: int, t: int) -> bool:
        """Take the new value; whether it is one."""
        if holds is self.holds:
            return False
        if self.holds is False:
            self.rose = e  # what was true and is lost from sight, or found again, is perhaps true since it began
        self.holds, self.t = holds, t
        return True


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
        self._sure, self._maybe = Stretches(self._tolerate), Stretches(self._tolerate)
        """The times in which all surely hold, and in which all perhaps do."""
        self._longest_sure = self._longest_maybe = 0
        self._doubt: Outcome | None = None

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
            member.rose = member.t = mark.t
        self._follow(mark)

    def change(self, key: str, state: str, e: int, t: int, n: int) -> None:
        mark = Mark(e, t, n)
        absent = [member for member in self._members if member.holds is False]
        changed = False
        for member in self._members:
            if member.key == key:
                changed = member.turn(state == member.state, e, t) or changed
        if key in self._unless.states:
            self._unless.states[key] = state
            changed = self._suspend(mark) or changed
        if changed:
            self._follow(mark)
            if self._maybe.now is None and any(member.holds for member in absent):
                self._overlap(n)

    def _suspend(self, mark: Mark) -> bool:
        """Keep the member that stands for ``unless``: its time is not judged as soon and as long as it may hold."""
        if not self.form.unless:
            return False
        free = not self._unless.suspends
        moment = mark.t if free else mark.e
        if not free:
            self._maybe.shorten(moment)
        return self._members[-1].turn(free, moment, moment)

    def _follow(self, mark: Mark) -> None:
        """Some members turned: begin and finish the stretches."""
        holds = [member.holds for member in self._members]
        sure, maybe = all(holds), False not in holds
        if not sure:
            self._sure.finish(mark.e, mark.n)
            self._sure.shorten(mark.e)
        elif self._sure.now is None:
            self._sure.begin(max(member.t for member in self._members), mark.n)
        if not maybe:
            self._maybe.finish(min(member.t for member in self._members if member.holds is False), mark.n)
            return
        now = self._maybe.now or self._maybe.begin(max(member.rose for member in self._members), mark.n)
        if not sure and not now.dark:
            now.dark = next(member.key for member in self._members if member.holds is None)

    def _overlap(self, n: int) -> None:
        """All may have held for a moment, where the edge that ended one and the edge that began another overlap."""
        start = max(member.rose for member in self._members)
        stop = min(member.t for member in self._members if member.holds is False)
        if stop > start:
            self._maybe.begin(start, n)
            self._maybe.finish(stop, n)

    def settled(self, s: int, n: int) -> None:
        if self._maybe.idle and self._sure.idle:
            return
        told = s - self._width
        for one in self._maybe.over(told):
            self._perhaps(one)
        over = self._sure.over(told)
        lasting = self._sure.lasting(told)
        for one in (*over, *(() if lasting is None else (lasting,))):
            self._longest_sure = max(self._longest_sure, one.length)
            if one.length > self._tolerate:
                self._fail(one, n)
                return

    def idle_until(self) -> float:
        return NEVER if self._maybe.idle and self._sure.idle else 0

    def _perhaps(self, one: Together) -> None:
        self._longest_maybe = max(self._longest_maybe, one.length)
        if one.length <= self._tolerate or self._doubt is not None:
            return
        if one.dark:
            self._doubt = unverified(Reason.NOT_OBSERVED, f"{said(one.dark)} was not known", lines=one.lines)
        else:
            detail = f"perhaps together for {show_time(one.length)}"
            self._doubt = unverified(Reason.TOO_CLOSE, detail, lines=one.lines, observed=Range(0, one.length))

    def _fail(self, one: Together, n: int) -> None:
        together = " and ".join(str(member) for member in self.form.never)
        most: int | None = None
        if self._maybe.now is None:
            most = max(one.length, *(other.length for other in self._maybe.over(None)), self._longest_maybe)
        failed = Outcome(
            Verdict.FAIL, None, f"{together} together", Range(one.length, most),
            self._tolerate - (one.length if most is None else most),
            lines=tuple(dict.fromkeys((*one.lines, n))), instances=max(1, self._maybe.count), failed=1,
        )  # fmt: skip
        self.outcome = self._unless.blame(failed)

    def gap(self, mark: Mark, points: frozenset[str] | None) -> None:
        self._unless.forget(points)
        lost = Mark(mark.e - self._unless.width, mark.t, mark.n)
        moments = [lost.e] if self._suspend(lost) else []
        for member in self._members:
            if member.key in self.world.points and (points is None or member.key in points):
                # a change before the gap may be lost in it, as late as it could still be told
                moment = max(mark.e - self.world.width(member.key), member.t)
                self._maybe.darken(moment, member.key)
                if member.turn(None, moment, mark.t):
                    moments.append(moment)
        if moments:
            self._follow(Mark(min(moments), mark.t, mark.n))

    def snapshot(self, t: int, n: int) -> None:
        self._unless.read(self.world)
        changed = self._suspend(Mark(t, t, n))
        for member in self._members:
            if member.key and (state := self.world.state(member.key)) is not None:
                changed = member.turn(state == member.state, t, t) or changed
        if changed:
            self._follow(Mark(t, t, n))

    def end(self, s: int, n: int, cut: str) -> None:
        self.settled(s, n)
        if self.outcome is not None:
            return
        self._maybe.finish(s, n)
        for one in self._maybe.over(None):
            self._perhaps(one)
        if cut:
            self.outcome = unverified(Reason.CUT_SHORT, cut, lines=(n,))
        elif self._doubt is not None:
            self.outcome = self._doubt
        else:
            most = self._longest_maybe
            passed = Outcome(
                Verdict.PASS, None, "", Range(self._longest_sure, most), self._tolerate - most,
                lines=(n,), instances=self._maybe.count, failed=0,
            )  # fmt: skip
            self.outcome = blinded(passed, self.form.tolerate, self._blind)
