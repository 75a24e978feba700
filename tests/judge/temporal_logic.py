"""``turns``, ``stays`` and ``never`` as signal temporal logic, for a monitor that nobody here wrote.

A trace's edges fall on a grid of 10 ms, every bound between its lines: nothing is ever at a bound, where that logic's
robustness is zero. Each point is a signal, +1 while it holds and -1 while it does not; an edge is a pulse of 1 ms, and
so is what an expectation is counted from. Of anchors at which the state already holds there is no pulse, since a turn
is then not asked for.
"""

from __future__ import annotations

import warnings
from typing import Any

import msgspec

from stagecall.model import plan
from stagecall.model.sequence import Anchor, Condition

PULSE = 1
Sample = tuple[int, float]


class Trace(msgspec.Struct, frozen=True):
    """Points' states at first and their edges, each at a moment of its own, from 0 to *stop*, ms."""

    stop: int
    first: dict[str, str]
    edges: tuple[tuple[int, str, str], ...]

    def moments(self, point: str, state: str) -> list[int]:
        """When the point turned to the state."""
        return [t for t, name, new in self.edges if (name, new) == (point, state)]

    def state(self, moment: int, point: str) -> str:
        """The point's state from that moment on."""
        return next((new for t, name, new in reversed(self.edges) if name == point and t <= moment), self.first[point])

    def holds(self, condition: Condition) -> list[Sample]:
        """The signal of a condition."""
        samples = [(0, 1.0 if self.first[condition.point] == condition.state else -1.0)]
        samples += [
            (t, 1.0 if new == condition.state else -1.0) for t, name, new in self.edges if name == condition.point
        ]
        return [*samples, (self.stop, samples[-1][1])]

    def pulses(self, moments: list[int]) -> list[Sample]:
        """The signal that is +1 for an instant at each of these moments."""
        samples: list[Sample] = [] if 0 in moments else [(0, -1.0)]
        for moment in moments:
            samples += [(moment, 1.0), (moment + PULSE, -1.0)]
        return [*samples, (self.stop, -1.0)]


class Formula(msgspec.Struct, frozen=True):
    """A sentence of the logic over named signals, each >= 0 where it is true."""

    text: str
    signals: dict[str, list[Sample]]


def translate(form: plan.Form, trace: Trace) -> Formula:
    """The formula that holds of a trace exactly where the expectation is not failed."""
    match form:
        case plan.Turns():
            return _turns(form, trace)
        case plan.Stays():
            return _stays(form, trace)
        case plan.Never():
            return _never(form, trace)
        case _:
            raise NotImplementedError(form)


def _anchors(since: Anchor, each: Anchor | None, trace: Trace) -> list[int]:
    anchor = each or since
    if anchor.kind == "step":
        return [0]
    moments = trace.moments(anchor.name, anchor.state)
    return moments if each else moments[:1]


def _turns(form: plan.Turns, trace: Trace) -> Formula:
    """The first such edge lies in the limit: none before its lower end, and one by its upper end."""
    low, high = form.within.range.low, form.within.range.high
    want = form.turns
    anchors = [t for t in _anchors(form.since, form.each, trace) if trace.state(t, want.point) != want.state]
    parts = []
    if low:
        parts.append(f"(always[0:{low:.0f}] (not (turn >= 0)))")
    if high is not None:
        parts.append(f"(eventually[0:{high:.0f}] (turn >= 0))")
    elif not form.each:  # of a single turn without an upper end, the step's end is the end
        parts.append("(eventually (turn >= 0))")
    text = f"always ((anchor >= 0) -> ({' and '.join(parts)}))"
    turned = trace.pulses(trace.moments(want.point, want.state))
    return Formula(text, {"anchor": trace.pulses(anchors), "turn": turned})


def _stays(form: plan.Stays, trace: Trace) -> Formula:
    """Right at its begin, and from then on away no longer than is tolerated."""
    begins = [t + form.begin for t in _anchors(form.since, form.each, trace)]
    signals = {"begin": trace.pulses(begins), "held": trace.holds(form.stays)}
    kept = f"(eventually[0:{form.tolerate}] (held >= 0))" if form.tolerate else "(held >= 0)"
    if form.length is not None:
        whole = f"(always[0:{form.length}] {kept})"
    elif form.until is not None:
        signals["ends"] = trace.pulses(trace.moments(form.until.point, form.until.state))
        after_the_anchor = f"[{2 * PULSE}:{trace.stop}]"  # its own edge ends nothing
        whole = f"(({kept} until{after_the_anchor} (ends >= 0)) or (always {kept}))"
    else:
        whole = f"(always {kept})"
    return Formula(f"always ((begin >= 0) -> ((held >= 0) and {whole}))", signals)


def _never(form: plan.Never, trace: Trace) -> Formula:
    """Together, with what parts them for less than is tolerated filled in, for no longer than that."""
    signals = {f"m{k}": trace.holds(member) for k, member in enumerate(form.never)}
    terms = [f"({name} >= 0)" for name in signals]
    for k, condition in enumerate(form.unless):
        signals[f"u{k}"] = trace.holds(condition)
        terms.append(f"(not (u{k} >= 0))")
    together = f"({' and '.join(terms)})"
    if not form.tolerate:
        return Formula(f"always (not {together})", signals)
    k = form.tolerate
    filled = f"(always[0:{k}] (once[0:{k}] {together}))"
    return Formula(f"always (not (always[0:{k}] {filled}))", signals)


def holds(formula: Formula, library: Any) -> bool:
    """What the outside monitor says of the whole trace, from its begin."""
    spec = library.StlDenseTimeOfflineSpecification()
    for name in formula.signals:
        spec.declare_var(name, "float")
    spec.spec = formula.text
    spec.parse()
    robustness: float = spec.evaluate(*([name, _samples(signal)] for name, signal in formula.signals.items()))[0][1]
    assert robustness != 0
    return robustness > 0


def _samples(signal: list[Sample]) -> list[list[float]]:
    return [[float(t), value] for t, value in signal]


def outside_monitor() -> Any:
    """The library, or why it is not there."""
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # its parser's runtime imports from a place of Python that is going
            import rtamt  # noqa: PLC0415 - an outside library that may be missing
    except ImportError as error:
        return str(error)
    return rtamt
