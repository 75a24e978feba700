"""Expectations made ready: limits resolved, the sentence written, what does not apply here said."""

from __future__ import annotations

from collections.abc import Iterator

import msgspec

from stagecall.documents.checks import quantity_of
from stagecall.documents.installation import Installation
from stagecall.documents.limits import Limits
from stagecall.documents.sentences import sentence
from stagecall.model import plan
from stagecall.model import sequence as written
from stagecall.model.plan import ResolvedLimit
from stagecall.model.sequence import Anchor, Bound, Condition
from stagecall.units import Kind


class Forms:
    """Resolves the expectations of one file. *installation* None: everything is taken to be there."""

    def __init__(self, limits: Limits, installation: Installation | None) -> None:
        self._limits = limits
        self._installation = installation

    def limit(self, bound: Bound, kind: Kind) -> ResolvedLimit:
        """A limit by name, or written on the spot."""
        if isinstance(bound, str):
            return self._limits.get(bound, kind)
        return ResolvedLimit(name="", range=bound.to(kind), kind=kind, origin="written here")

    def resolve(self, form: written.Form, name: str) -> plan.Form:
        """The expectation under its id."""
        made = self._made(form, name)
        return msgspec.structs.replace(made, text=sentence(made), not_applicable=self._lacking(form))

    def present(self, conditions: tuple[Condition, ...]) -> tuple[Condition, ...]:
        """Those that can ever hold here: a point that is not here can suspend nothing."""
        if self._installation is None:
            return conditions
        return tuple(one for one in conditions if one.point in self._installation.points)

    def _low(self, bound: Bound | None) -> int | None:
        return None if bound is None else round(self.limit(bound, "time").range.low or 0)

    def _high(self, bound: Bound | None) -> int | None:
        if bound is None:
            return None
        span = self.limit(bound, "time").range
        return round((span.low if span.high is None else span.high) or 0)

    def _made(self, form: written.Form, name: str) -> plan.Form:
        made: plan.Form
        match form:
            case written.Turns():
                made = plan.Turns(
                    id=name,
                    text="",
                    turns=form.turns,
                    within=self.limit(form.within, "time"),
                    usual=None if form.usual is None else self.limit(form.usual, "time").range,
                    since=form.since,
                    each=form.each,
                    unless=self.present(form.unless),
                )
            case written.Stays():
                made = plan.Stays(
                    id=name,
                    text="",
                    stays=form.stays,
                    begin=self._low(form.stays_from) or 0,
                    length=self._low(form.stays_for),
                    until=form.stays_until,
                    tolerate=self._high(form.tolerate),
                    since=form.since,
                    each=form.each,
                    unless=self.present(form.unless),
                )
            case written.Order():
                gaps = tuple(None if gap is None else self.limit(gap, "time") for gap in form.gaps)
                made = plan.Order(id=name, text="", order=form.order, gaps=gaps, attempt=form.attempt)
            case written.Never():
                tolerate, unless = self._high(form.tolerate), self.present(form.unless)
                made = plan.Never(id=name, text="", never=form.never, tolerate=tolerate, unless=unless)
            case written.Reads():
                limit = self.limit(form.range, quantity_of(form.reads))
                at = form.at if isinstance(form.at, str) else round(form.at.to("time"))
                made = plan.Reads(id=name, text="", reads=form.reads, limit=limit, at=at)
            case written.Times():
                count = self.limit(form.count, "count")
                made = plan.Times(id=name, text="", times=form.times, count=count, per=self._high(form.per))
            case written.Ask():
                made = plan.Ask(id=name, text="", ask=form.ask, who=form.who)
        return made

    def _lacking(self, form: written.Form) -> str:
        """Why the expectation does not apply on this system; empty where it does."""
        here = self._installation
        if here is None:
            return ""
        if form.applies_if is not None and (reason := here.lacks_reason(form.applies_if)):
            return reason
        names, calls = [], []
        for one in _mentions(form):
            if isinstance(one, str):
                names.append(one)
            elif one.kind == "point":
                names.append(one.name)
            elif one.kind == "call":
                calls.append(one.name)
        return here.lacks_points(names) or here.lacks_calls(calls)


def _mentions(form: written.Form) -> Iterator[str | Anchor]:
    """Points and anchors without which the expectation means nothing."""
    match form:
        case written.Turns():
            yield form.turns.point
            yield form.each or form.since
        case written.Stays():
            yield form.stays.point
            yield form.each or form.since
            if form.stays_until is not None:
                yield form.stays_until.point
        case written.Order():
            yield from (one.point for one in form.order)
        case written.Never():
            yield from (one.point for one in form.never)
        case written.Reads():
            yield form.reads
        case written.Times():
            yield form.times.point
        case written.Ask():
            return
