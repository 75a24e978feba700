"""The plain sentence of an expectation, as it stands on screen and on the record."""

from __future__ import annotations

from collections.abc import Iterable

from stagecall import points
from stagecall.model import plan
from stagecall.model.sequence import Anchor, Condition
from stagecall.units import show_range, show_time


def words(point: str) -> str:
    """A point's name as words: ``gas valve``, ``wire Y1``."""
    return point.replace("_", " ")


def change(condition: Condition) -> str:
    """``blower turns on``, ``limit opens``, ``reversing valve turns to cool``."""
    known = points.point(condition.point)
    if known is not None and known.states == points.SWITCH:
        return f"{words(condition.point)} {'closes' if condition.state == 'closed' else 'opens'}"
    to = "" if condition.state in points.ON_OFF else "to "
    return f"{words(condition.point)} turns {to}{condition.state}"


def _of(anchor: Anchor, each: Anchor | None, word: str) -> str:
    if each is not None:
        return f" {word} each {each}"
    return "" if anchor.kind == "step" else f" {word} {anchor}"


def _unless(unless: Iterable[Condition]) -> str:
    listed = " or ".join(str(condition) for condition in unless)
    return f", unless {listed}" if listed else ""


def sentence(form: plan.Form) -> str:
    """The sentence of a resolved expectation.

    ``compressor turns on within 4:30 min to 5:30 min of compressor off``, ``blower stays on for 3 min``,
    ``gas valve never on with pressure switch open``, ``compressor turns on at most 6 times in any 60 min``.
    """
    match form:
        case plan.Turns():
            text = _turns(form)
        case plan.Stays():
            text = _stays(form)
        case plan.Order():
            tail = "" if form.attempt == "first" else f", {form.attempt} attempt"
            text = f"in order: {', '.join(str(condition) for condition in form.order)}{tail}"
        case plan.Never():
            first, *rest = form.never
            with_ = f" with {' and '.join(str(condition) for condition in rest)}" if rest else ""
            longer = "" if form.tolerate is None else f" for more than {show_time(form.tolerate)}"
            text = f"{words(first.point)} never {first.state}{with_}{longer}{_unless(form.unless)}"
        case plan.Reads():
            when = f"after {show_time(form.at)}" if isinstance(form.at, int) else _WHEN[form.at]
            text = f"{words(form.reads)} reads {show_range(form.limit.range, form.limit.kind)} {when}"
        case plan.Times():
            window = "" if form.per is None else f" in any {show_time(form.per)}"
            text = f"{change(form.times)} {show_range(form.count.range, 'count')} times{window}"
        case plan.Ask():
            text = form.ask
    return text


_WHEN = {"end": "at the end", "throughout": "throughout"}


def _turns(form: plan.Turns) -> str:
    span = show_range(form.within.range, "time")
    if form.within.range.high is None:
        after = _of(form.since, form.each, "after") or " after the step's begin"
        return f"{change(form.turns)} {span}{after}{_unless(form.unless)}"
    if not span.startswith("within"):
        span = f"within {span}"
    return f"{change(form.turns)} {span}{_of(form.since, form.each, 'of')}{_unless(form.unless)}"


def _stays(form: plan.Stays) -> str:
    text = f"{words(form.stays.point)} stays {form.stays.state}"
    if form.length is not None:
        text += f" for at least {show_time(form.length)}"
    if form.begin:
        text += f" from {show_time(form.begin)} on"
    if form.until is not None:
        text += f" until {form.until}"
    return f"{text}{_of(form.since, form.each, 'after')}{_unless(form.unless)}"
