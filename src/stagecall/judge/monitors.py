"""All monitors of a log together, so that a line costs only those it concerns."""

from __future__ import annotations

from stagecall.judge.anchors import Anchors
from stagecall.judge.forms import watch
from stagecall.judge.intervals import Mark
from stagecall.judge.scope import Scope
from stagecall.judge.sequence import measured_line, rolled_up, verdict_line
from stagecall.judge.state import World
from stagecall.judge.watch import Context, Watch, not_applicable
from stagecall.model.event import VerdictLine
from stagecall.model.plan import Monitor


class Monitors:
    """The armed monitors."""

    __slots__ = ("_lines", "_must_run", "_out", "_world", "scope")

    def __init__(self, world: World, begin: Mark, out: list[VerdictLine]) -> None:
        """Verdicts go to *out*."""
        self._world, self._out = world, out
        self._lines: dict[str, list[VerdictLine]] = {}
        self._must_run: dict[str, bool] = {}
        self.scope = Scope(Anchors(world, begin), self._report)

    def _report(self, watched: Watch) -> None:
        if watched.outcome is not None:
            self._tell(watched.context.of, measured_line(watched, watched.outcome))

    def _tell(self, of: str, line: VerdictLine) -> None:
        self._lines[of].append(line)
        self._out.append(line)

    def arm(self, plan: Monitor, mark: Mark) -> None:
        """Judge *plan* from *mark* on."""
        self._lines[plan.name] = []
        self._must_run[plan.name] = plan.must_run
        context = Context(self._world, plan.name, monitor=True, must_run=plan.must_run)
        for form in plan.expect:
            if form.not_applicable:
                outcome = not_applicable(form.not_applicable)
                self._tell(plan.name, verdict_line(plan.name, form.id, outcome, monitor=True))
            else:
                self.scope.add(watch(form, context), mark)

    def end(self, s: int, n: int, cut: str) -> list[VerdictLine]:
        """The log ended: what is open settles, and each monitor is rolled up; the roll-ups are returned too."""
        self.scope.end(s, n, cut)
        whole = [rolled_up(of, lines, monitor=True, must_run=self._must_run[of]) for of, lines in self._lines.items()]
        self._out += whole
        return whole
