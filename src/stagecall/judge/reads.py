"""``reads``: the quantity lies in the limit at the step's end, throughout it, or a time after its anchor."""

from __future__ import annotations

import msgspec

from stagecall.judge.anchors import STEP
from stagecall.judge.intervals import Mark, Place, margin, place
from stagecall.judge.watch import NEVER, Context, Outcome, Watch, said, unverified
from stagecall.model import plan
from stagecall.model.verdict import Reason, Verdict
from stagecall.units import Range, show, show_range, show_time


class _Read(msgspec.Struct, frozen=True, gc=False):
    """A reading, SI, its moment in ms, and its line."""

    value: float
    t: int
    n: int


class Reads(Watch):
    """Watches one quantity; a reading with its uncertainty is an interval."""

    def __init__(self, form: plan.Reads, context: Context) -> None:
        super().__init__(form, context)
        self.form = form
        self.unit = form.limit.kind
        sight = self.world.sight.get(form.reads)
        self.uncertainty = 0.0 if sight is None else sight.uncertainty
        self.holds = 0 if sight is None else sight.holds
        self.wants = STEP if isinstance(form.at, int) else None
        self._begun = 0
        self._moment: int | None = None
        """When it counts, where that is one moment and known, ms."""
        self._last: _Read | None = None
        self._span: tuple[float, float] | None = None
        """Least and most of what was read throughout."""
        self._doubt: Outcome | None = None
        self._hole: Outcome | None = None

    def limit(self) -> Range | None:
        return self.form.limit.range

    def must_see(self) -> tuple[str, ...]:
        return (self.form.reads,)

    def begin(self, mark: Mark) -> None:
        self._begun = mark.t
        track = self.world.points[self.form.reads]
        if track.reading is not None and self.holds and self.form.at != "throughout":
            self._last = _Read(track.reading.value, track.reading.t, track.reading.n)

    def anchored(self, mark: Mark) -> None:
        if isinstance(self.form.at, int):
            self._moment = mark.t + self.form.at

    def reading(self, point: str, value: float, t: int, n: int) -> None:
        if self._moment is not None and t > self._moment:
            return
        read = _Read(value, t, n)
        if self.form.at == "throughout":
            self._look(read)
        self._last = read

    def _look(self, read: _Read) -> None:
        since = self._begun if self._last is None else self._last.t
        if self.holds and read.t - since > self.holds:
            self._miss(read.t - since, read.n)
        outcome = self._compare(read)
        if outcome.verdict is Verdict.FAIL:
            self.outcome = outcome
        elif outcome.verdict is not Verdict.PASS:
            self._doubt = self._doubt or outcome
        least, most = read.value - self.uncertainty, read.value + self.uncertainty
        if self._span is not None:
            least, most = min(least, self._span[0]), max(most, self._span[1])
        self._span = least, most

    def _miss(self, hole: int, n: int) -> None:
        missed = unverified(Reason.NOT_OBSERVED, f"no reading for {show_time(hole)}", lines=(n,))
        self._hole = self._hole or missed

    def _compare(self, read: _Read) -> Outcome:
        limit = self.form.limit.range
        least, most = read.value - self.uncertainty, read.value + self.uncertainty
        observed, worst = Range(least, most), margin(least, most, limit.low, limit.high)
        where = place(least, most, limit.low, limit.high)
        if where is Place.INSIDE:
            return Outcome(Verdict.PASS, None, "", observed, worst, lines=(read.n,))
        kind = self.form.limit.kind
        shown = f"{show(read.value, kind)}, not {show_range(limit, kind)}"
        if where is Place.OUTSIDE:
            return Outcome(Verdict.FAIL, None, shown, observed, worst, lines=(read.n,))
        detail = f"{show(read.value, kind)} is on the edge of the limit"
        return Outcome(Verdict.NOT_VERIFIED, Reason.TOO_CLOSE, detail, observed, worst, lines=(read.n,))

    def settled(self, s: int, n: int) -> None:
        if self._moment is not None and s >= self._moment:
            self.outcome = self._at(self._moment, n)

    def idle_until(self) -> float:
        return NEVER if self._moment is None else self._moment

    def _at(self, moment: int, n: int) -> Outcome:
        last = self._last
        if last is None:
            return unverified(Reason.NOT_OBSERVED, f"{said(self.form.reads)} was not read", lines=(n,))
        if self.holds and moment - last.t > self.holds:
            old = f"last read {show_time(moment - last.t)} before"
            return unverified(Reason.NOT_OBSERVED, old, lines=(last.n, n))
        return self._compare(last)

    def gap(self, mark: Mark, points: frozenset[str] | None) -> None:
        if points is not None and self.form.reads not in points:
            return
        if self.form.at == "throughout":
            self._hole = self._hole or unverified(Reason.NOT_OBSERVED, "a gap in the record", lines=(mark.n,))
        else:
            self._last = None

    def end(self, s: int, n: int, cut: str) -> None:
        self.settled(s, n)
        if self.outcome is not None:
            return
        if cut or self._moment is not None:
            self.outcome = unverified(Reason.CUT_SHORT, cut or "the step ended first", lines=(n,))
        elif self.form.at == "end":
            self.outcome = self._at(s, n)
        else:
            self.outcome = self._throughout(s, n)

    def _throughout(self, s: int, n: int) -> Outcome:
        if self._last is None or self._span is None:
            return unverified(Reason.NOT_OBSERVED, f"{said(self.form.reads)} was not read", lines=(n,))
        if self.holds and s - self._last.t > self.holds:
            self._miss(s - self._last.t, n)
        if self._hole or self._doubt:
            return self._hole or self._doubt or unverified(Reason.NOT_OBSERVED)
        limit = self.form.limit.range
        return Outcome(
            Verdict.PASS,
            None,
            "",
            Range(*self._span),
            margin(*self._span, limit.low, limit.high),
            lines=(self._last.n, n),
        )

    def open(self) -> bool:
        return isinstance(self.form.at, int)

    def deadline(self) -> int | None:
        return self._moment
