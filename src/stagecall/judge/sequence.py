"""One occurrence of a sequence in the log: its starts, its steps, its roll-up."""

from __future__ import annotations

import msgspec

from stagecall.judge.anchors import Anchors
from stagecall.judge.forms import watch
from stagecall.judge.intervals import Mark
from stagecall.judge.scope import Scope
from stagecall.judge.state import World
from stagecall.judge.watch import Context, Outcome, Watch, not_applicable, said, unverified
from stagecall.model.event import StepMark, VerdictLine
from stagecall.model.plan import Sequence, Step
from stagecall.model.verdict import Reason, Verdict, roll_up

PROTECTION = "protection"
"""The group whose expectations nobody can set aside."""


def verdict_line(of: str, name: str, outcome: Outcome, *, monitor: bool = False) -> VerdictLine:
    """The line that goes into the log; its moment is set by the judge."""
    return VerdictLine(
        of=of, monitor=monitor, id=name, verdict=outcome.verdict, reason=outcome.reason, detail=outcome.detail,
        observed=outcome.observed, margin=outcome.margin, usual=outcome.usual, remark=outcome.remark,
        instances=outcome.instances, failed=outcome.failed, counted=outcome.counted, lines=outcome.lines,
    )  # fmt: skip


def measured_line(watched: Watch, outcome: Outcome) -> VerdictLine:
    """The line for an expectation that was watched, with the limit it was judged by."""
    line = verdict_line(watched.context.of, watched.id, outcome, monitor=watched.context.monitor)
    line.unit, line.limit = watched.unit, watched.limit()
    return line


def rolled_up(of: str, lines: list[VerdictLine], *, monitor: bool = False, must_run: bool = True) -> VerdictLine:
    """The worst of what counts; nothing that counts is not verified (and idle itself, unless it *must_run*)."""
    counted = [line for line in lines if line.counted and line.verdict is not Verdict.NOT_APPLICABLE]
    verdict = roll_up(line.verdict for line in counted)
    deciding = next((line for line in counted if line.verdict is verdict), None)
    if deciding is None:
        idle = unverified(Reason.NEVER_CAME_UP, "nothing in it could be judged")
        return verdict_line(of, "", msgspec.structs.replace(idle, counted=must_run), monitor=monitor)
    reason = deciding.reason if verdict is Verdict.NOT_VERIFIED else None
    return verdict_line(of, "", Outcome(verdict, reason), monitor=monitor)


class Occurrence:
    """A sequence from its begin mark to its end mark."""

    __slots__ = ("_begun", "_excepted", "_lines", "_number", "_out", "_plan", "_world", "scope")

    def __init__(
        self, plan: Sequence, number: int, world: World, excepted: dict[tuple[str, str], str], out: list[VerdictLine]
    ) -> None:
        """*number* tells this occurrence from others; *excepted* says who set what aside; verdicts go to *out*."""
        self._plan, self._number, self._world, self._excepted, self._out = plan, number, world, excepted, out
        self._begun: set[str] = set()
        self._lines: list[VerdictLine] = []
        self.scope: Scope | None = None
        """The step that is running."""

    @property
    def name(self) -> str:
        """The sequence's name."""
        return self._plan.name

    def _tell(self, name: str, outcome: Outcome, watched: Watch | None = None) -> None:
        why = self._excepted.get((self.name, name))
        if why is not None and outcome.verdict is Verdict.NOT_VERIFIED and self._plan.group != PROTECTION:
            remark = f"{outcome.remark}; {why}" if outcome.remark else why
            outcome = msgspec.structs.replace(outcome, verdict=Verdict.EXCEPTED, remark=remark)
        line = verdict_line(self.name, name, outcome) if watched is None else measured_line(watched, outcome)
        self._lines.append(line)
        self._out.append(line)

    def _report(self, watched: Watch) -> None:
        if watched.outcome is not None:
            self._tell(watched.id, watched.outcome, watched)

    def begin(self, mark: Mark) -> None:
        """The begin mark: what it must start from, and what does not apply."""
        for k, start in enumerate(self._plan.starts):
            state = self._world.state(start.point)
            if state is None:
                outcome = unverified(Reason.NOT_OBSERVED, f"{said(start.point)} is not known", lines=(mark.n,))
            elif state == start.state:
                outcome = Outcome(Verdict.PASS, lines=(mark.n,))
            else:
                outcome = Outcome(Verdict.FAIL, None, f"{said(start.point)} is {state}", lines=(mark.n,))
            self._tell(f"starts.{k + 1}", outcome)
        for step in self._plan.steps:
            for form in step.expect:
                if why := step.not_applicable or form.not_applicable:
                    self._tell(form.id, not_applicable(why))

    def begin_step(self, line: StepMark, told: Mark | None) -> None:
        """A step begins; *told* is the last settled moment."""
        step = next((step for step in self._plan.steps if step.slug == line.step), None)
        self._begun.add(line.step)
        mark = Mark(line.t, line.t, line.n)
        anchors = Anchors(self._world, mark, line.awaits, line.anchor, self._number)
        self.scope = Scope(anchors, self._report, told)
        if step is not None and not step.not_applicable:
            context = Context(self._world, self.name)
            for form in step.expect:
                if not form.not_applicable:
                    self.scope.add(watch(form, context), mark)

    def end_step(self, s: int, n: int, cut: str) -> None:
        """The running step ends."""
        if self.scope is not None:
            self.scope.end(s, n, cut)
            self.scope = None

    def end(self, t: int, n: int, cut: str) -> VerdictLine:
        """The end mark, or the end of the log: what never began, and the roll-up, which is returned too."""
        self.end_step(t, n, cut or "the step's end is not in the log")
        for step in self._plan.steps:
            if step.slug not in self._begun and not step.not_applicable:
                self._never_begun(step, cut or "the step was not run")
        whole = rolled_up(self.name, self._lines)
        if cut and whole.verdict in (Verdict.PASS, Verdict.EXCEPTED):
            whole = verdict_line(self.name, "", unverified(Reason.CUT_SHORT, cut))
        self._out.append(whole)
        return whole

    def _never_begun(self, step: Step, why: str) -> None:
        for form in step.expect:
            if not form.not_applicable:
                self._tell(form.id, unverified(Reason.CUT_SHORT, why))
