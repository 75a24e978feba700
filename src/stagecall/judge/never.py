"""``never``: the conditions never hold together longer than is tolerated. Three-valued: true, false, not known."""

from __future__ import annotations

from stagecall.judge.intervals import Mark
from stagecall.judge.stretch import Stretch, SureStretch
from stagecall.judge.watch import Context, Outcome, Unless, Watch, blinded, said, tolerance, unverified
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
        self._sure, self._maybe = SureStretch(self._tolerate), Stretch(self._tolerate)
        self._longest_sure = self._longest_maybe = 0
        self._dark = ""
        """A point that was not known while all perhaps held."""
        self._doubt: Outcome | None = None
        self._instances = 0
        self._fresh = False
        """The stretch in which all perhaps hold has not been counted."""
        self._opened = -1
        """The line that opened it."""

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
            if not self._maybe.open and any(member.holds for member in absent):
                self._overlap(n)

    def _suspend(self, mark: Mark) -> bool:
        """Keep the member that stands for ``unless``: its time is not judged as soon and as long as it may hold."""
        if not self.form.unless:
            return False
        free = not self._unless.suspends
        moment = mark.t if free else mark.e
        return self._members[-1].turn(free, moment, moment)

    def _follow(self, mark: Mark) -> None:
        """Some members turned: open and close the stretches."""
        holds = [member.holds for member in self._members]
        sure, maybe = all(holds), False not in holds
        if not sure:
            self._sure.leave(mark.e, mark.n)
        elif not self._sure.open:
            self._sure.begin(max(member.t for member in self._members), mark.n)
        if maybe and not self._maybe.open:
            self._open_maybe(max(member.rose for member in self._members), mark.n)
        elif self._maybe.open and not maybe:
            self._close_maybe(min(member.t for member in self._members if member.holds is False), mark.n)
        if maybe and not sure and not self._dark:
            self._dark = next(member.key for member in self._members if member.holds is None)

    def _open_maybe(self, moment: int, n: int) -> None:
        self._opened = n
        if self._maybe.begin(moment):
            self._fresh, self._dark = True, ""

    def _overlap(self, n: int) -> None:
        """All may have held for a moment, where the edge that ended one and the edge that began another overlap."""
        start = max(member.rose for member in self._members)
        stop = min(member.t for member in self._members if member.holds is False)
        if stop > start:
            self._open_maybe(start, n)
            self._close_maybe(stop, n)

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

    def settled(self, s: int, n: int) -> None:
        length, lines = self._sure.certain(s - self._width)
        self._longest_sure = max(self._longest_sure, length)
        if length <= self._tolerate:
            return
        together = " and ".join(str(one) for one in self.form.never)
        most = None if self._maybe.open else max(length, self._longest_maybe)
        failed = Outcome(
            Verdict.FAIL, None, f"{together} together", Range(length, most), self._tolerate - (most or length),
            lines=tuple(dict.fromkeys((*lines, n))), instances=max(1, self._instances), failed=1,
        )  # fmt: skip
        self.outcome = self._unless.blame(failed)

    def gap(self, mark: Mark, points: frozenset[str] | None) -> None:
        self._unless.forget(points)
        changed = self._suspend(mark)
        for member in self._members:
            if member.key and member.key in self.world.points and (points is None or member.key in points):
                changed = member.turn(None, mark.e, mark.t) or changed
        if changed:
            self._follow(mark)

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
        if self._maybe.open:
            self._close_maybe(s, n)
        if cut:
            self.outcome = unverified(Reason.CUT_SHORT, cut, lines=(n,))
        elif self._doubt is not None:
            self.outcome = self._doubt
        else:
            most = self._longest_maybe
            passed = Outcome(
                Verdict.PASS, None, "", Range(self._longest_sure, most), self._tolerate - most,
                lines=(n,), instances=self._instances, failed=0,
            )  # fmt: skip
            self.outcome = blinded(passed, self.form.tolerate, self._blind)
