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

    __slots__ = ("_lines", "_must_run", "_new", "_now", "_world", "scope")

    def __init__(self, world: World, begin: Mark) -> None:
        self._world = world
        self._lines: dict[str, list[VerdictLine]] = {}
        self._must_run: dict[str, bool] = {}
        self._new: list[VerdictLine] = []
        self._now = begin.t
        self.scope = Scope(Anchors(world, begin), self._report)

    def at(self, t: int) -> None:
        """Verdicts from here on are given at *t*."""
        self._now = t

    def take(self) -> list[VerdictLine]:
        """The verdicts since the last time."""
        new, self._new = self._new, []
        return new

    def _report(self, watched: Watch) -> None:
        if watched.outcome is not None:
            of = watched.context.of
            line = measured_line(watched, watched.outcome, self._now)
            self._lines[of].append(line)
            self._new.append(line)

    def arm(self, plan: Monitor, mark: Mark) -> None:
        """Judge *plan* from *mark* on."""
        self._lines[plan.name] = []
        self._must_run[plan.name] = plan.must_run
        context = Context(self._world, plan.name, monitor=True, must_run=plan.must_run)
        for form in plan.expect:
            if form.not_applicable:
                outcome = not_applicable(form.not_applicable)
                line = verdict_line(plan.name, form.id, outcome, mark.t, monitor=True)
                self._lines[plan.name].append(line)
                self._new.append(line)
            else:
                self.scope.add(watch(form, context), mark)

    def end(self, s: int, n: int, cut: str) -> None:
        """The log ended: what is open settles, and each monitor is rolled up."""
        self.scope.end(s, n, cut)
        for of, lines in self._lines.items():
            self._new.append(rolled_up(of, lines, s, monitor=True, must_run=self._must_run[of]))
