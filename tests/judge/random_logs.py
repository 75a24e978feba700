"""Random plans and random logs of them, small enough that every kind of coincidence happens often."""

from __future__ import annotations

from typing import Any

from golden_case import document, header, numbered
from hypothesis import strategies as st

from stagecall.model import event, plan
from stagecall.model.sequence import Anchor, Condition
from stagecall.units import Range

POINTS = ("blower", "compressor", "flame")
WAITS = st.sampled_from([0, 1, 10, 90, 100, 101, 400, 500, 501, 600, 1000, 2000])
LOWS = st.sampled_from([None, None, 0, 400, 500, 1000])
HIGHS = st.sampled_from([None, 500, 600, 1000, 2000])
STATES = st.sampled_from(["on", "off"])
CONDITIONS = st.builds(Condition, st.sampled_from(POINTS), STATES)
CALLS = ("Y1", "G")
ANCHORS = st.one_of(
    st.just(Anchor()),
    st.builds(Anchor, st.just("point"), st.sampled_from(POINTS), STATES),
    st.builds(Anchor, st.just("call"), st.sampled_from(CALLS), STATES),
    st.builds(Anchor, st.just("power"), st.just(""), STATES),
)
EDGES = ANCHORS.filter(lambda anchor: anchor.kind != "step")


@st.composite
def limits(draw: st.DrawFn, lows: Any = LOWS, highs: Any = HIGHS) -> plan.ResolvedLimit:
    low, high = draw(lows), draw(highs)
    if not low and high is None:
        high = 1000
    if low is not None and high is not None and low > high:
        low, high = high, low
    return plan.ResolvedLimit(name="limit", range=Range(low, high))


COUNTS = limits(st.sampled_from([None, 0, 1, 2]), st.sampled_from([None, 0, 1, 2, 3]))
TOLERATED = st.sampled_from([None, None, 0, 100, 500, 600])


@st.composite
def forms(draw: st.DrawFn, kinds: tuple[str, ...], name: str, *, monitor: bool) -> plan.Form:  # noqa: PLR0911 - one form a branch
    base: dict[str, Any] = {"id": name, "text": name}
    kind = draw(st.sampled_from(kinds))
    counted: dict[str, Any] = {"each": draw(EDGES)} if monitor or kind.endswith("each") else {"since": draw(ANCHORS)}
    unless = st.sampled_from([(), (), (), (Condition("flame", "on"),)])
    match kind:
        case "turns" | "turns each":
            want = draw(CONDITIONS)
            at = next(iter(counted.values()))
            if (at.name, at.state) == (want.point, want.state):
                want = Condition(want.point, "off" if want.state == "on" else "on")
            if "flame" in (want.point, at.name):
                unless = st.just(())
            return plan.Turns(turns=want, within=draw(limits()), unless=draw(unless), **counted, **base)
        case "stays" | "stays each":
            ends, want = draw(st.sampled_from(["length", "until", "end"])), draw(CONDITIONS)
            others = CONDITIONS.filter(lambda other: other.point != want.point)
            return plan.Stays(
                stays=want, begin=draw(st.sampled_from([0, 0, 500])), tolerate=draw(TOLERATED),
                length=draw(st.sampled_from([500, 1000, 2000])) if ends == "length" else None,
                until=draw(others) if ends == "until" else None, **counted, **base,
            )  # fmt: skip
        case "never":
            members = draw(st.lists(CONDITIONS, min_size=1, max_size=2, unique_by=lambda c: c.point))
            if "flame" in (member.point for member in members):
                unless = st.just(())
            return plan.Never(never=tuple(members), tolerate=draw(TOLERATED), unless=draw(unless), **base)
        case "order":
            elements = draw(st.lists(CONDITIONS, min_size=2, max_size=3, unique=True))
            gaps = tuple(draw(st.none() | limits()) for _ in elements[1:]) if draw(st.booleans()) else ()
            attempt = draw(st.sampled_from(["first", "last"]))
            return plan.Order(order=tuple(elements), gaps=gaps, attempt=attempt, **base)
        case "times":
            return plan.Times(times=draw(CONDITIONS), count=draw(COUNTS), per=None, **base)
        case "times per":
            return plan.Times(
                times=draw(CONDITIONS), count=draw(COUNTS), per=draw(st.sampled_from([500, 1000])), **base
            )
        case "reads":
            at = draw(st.sampled_from(["end", "throughout", 500, 1000]))
            limit = plan.ResolvedLimit(name="limit", range=Range(35.0, 45.0), kind="temperature")
            return plan.Reads(reads="supply_air", limit=limit, at=at, **base)
    return plan.Ask(ask="?", **base)


class Story:
    """A log being told: moments never run back, one point's changes never overlap, the settled stays settled."""

    def __init__(self, draw: st.DrawFn, bounds: dict[str, event.PointBounds]) -> None:
        self.draw, self.bounds = draw, bounds
        self.lines: list[event.AnyLine] = []
        self.t, self.told = 0, -1
        self.points = {name: draw(STATES) for name in bounds if name in POINTS}
        self.changed = dict.fromkeys((*bounds, *CALLS, "power"), -1)
        self.calls = dict.fromkeys(CALLS, "off")
        self.power = "on"

    def later(self) -> int:
        self.t = max(self.t + self.draw(WAITS), self.told + 1)
        return self.t

    def early(self, what: str, width: int) -> int | None:
        """The earliest moment of a change at ``self.t``; None where it is known to the millisecond."""
        e = max(self.t - self.draw(st.sampled_from([0, width // 2, width])), self.changed[what] + 1, 0)
        self.changed[what] = self.t
        return min(e, self.t) if e < self.t else None

    def edge(self, point: str, state: str) -> None:
        t = self.later()
        if self.changed[point] >= t:
            t = self.t = t + 1
        self.points[point] = state
        count = 6 if state == "chatter" else 0
        self.lines.append(
            event.Edge(t=t, e=self.early(point, self.bounds[point].width), point=point, state=state, count=count)
        )

    def call(self, terminal: str, state: str) -> None:
        t = self.later()
        self.calls[terminal] = state
        self.lines.append(event.Call(t=t, e=self.early(terminal, 10), terminal=terminal, state=state))

    def switch_power(self, state: str) -> None:
        t = self.later()
        self.power = state
        self.lines.append(event.Power(t=t, e=self.early("power", 10), state=state))

    def settled(self) -> None:
        self.told = self.later()
        self.lines.append(event.Settled(t=self.told))

    def snapshot(self, t: int) -> None:
        self.changed = dict.fromkeys(self.changed, t)
        on = tuple(name for name, state in self.calls.items() if state == "on")
        self.lines.append(event.Snapshot(t=t, points=dict(self.points), calls=on, power=self.power))
        self.told = t

    def gap(self) -> None:
        some = self.draw(st.sampled_from([(), (), ("blower",), ("compressor", "flame")]))
        self.lines.append(event.Gap(t=self.later(), points=tuple(p for p in some if p in self.points), because="lost"))
        for point in self.points:
            if not some or point in some:
                self.points[point] = self.draw(STATES)
        self.snapshot(self.later())

    def anything(self) -> None:
        match self.draw(st.sampled_from(["edge"] * 8 + ["call", "power", "settled", "settled", "reading", "rare"])):
            case "edge":
                point = self.draw(st.sampled_from(sorted(self.points)))
                other = "off" if self.points[point] == "on" else "on"
                state = self.draw(st.sampled_from([other] * 9 + ["chatter"]))
                if state != self.points[point]:
                    self.edge(point, state)
            case "call":
                terminal = self.draw(st.sampled_from(CALLS))
                self.call(terminal, "off" if self.calls[terminal] == "on" else "on")
            case "power":
                self.switch_power("off" if self.power == "on" else "on")
            case "settled":
                self.settled()
            case "reading":
                value = self.draw(st.sampled_from([30.0, 35.0, 40.0, 44.5, 45.25, 50.0]))
                self.lines.append(event.Reading(t=self.later(), point="supply_air", value=value))
            case "rare":
                self.rare()

    def rare(self) -> None:
        match self.draw(st.sampled_from(["gap", "agrees", "contradicts"])):
            case "gap":
                self.gap()
            case "agrees":
                self.snapshot(self.later())
            case "contradicts":
                point = self.draw(st.sampled_from(sorted(self.points)))
                self.points[point] = "off" if self.points[point] == "on" else "on"
                self.snapshot(self.later())

    def step(self, slug: str) -> None:
        begin = event.StepMark(t=self.t, sequence="s", step=slug, phase="begin")
        self.lines.append(begin)
        awaits: dict[str, str] = {}
        for item in self.draw(st.sampled_from([(), (), ("Y1",), ("Y1", "G"), ("power",)])):
            now = self.power if item == "power" else self.calls[item]
            awaits[item] = "off" if now == "on" else "on"
        begin.awaits = awaits
        for item, state in awaits.items():
            if self.draw(st.integers(0, 9)) == 0:
                continue
            if self.draw(st.integers(0, 3)) == 0:
                self.anything()
            if item == "power":
                self.switch_power(state)
            else:
                self.call(item, state)
        for _ in range(self.draw(st.integers(0, 7))):
            self.anything()
        if self.draw(st.integers(0, 3)) == 0:
            self.lines.append(
                event.Answer(
                    t=self.later(), sequence="s", id=f"{slug}.1", value=self.draw(st.sampled_from(["yes", "no"]))
                )
            )
        cut = self.draw(st.sampled_from(["", "", "", "stopped by a person"]))
        self.told = self.later()
        self.lines.append(event.StepMark(t=self.told, sequence="s", step=slug, phase="end", cut_short=cut))


@st.composite
def logs(draw: st.DrawFn, kinds: tuple[str, ...], *, monitor: bool = False) -> list[event.AnyLine]:
    """A whole log, numbered; ``kinds`` of expectations in a monitor or in the steps."""
    bounds = {}
    for name in POINTS:
        width = draw(st.sampled_from([0, 100, 100]))
        blind = draw(st.sampled_from([0, 0, 50, 550]))
        bounds[name] = event.PointBounds(sensed="contact", late_on=(0, width), late_off=(0, width), blind=blind)
    if draw(st.integers(0, 19)) == 0:
        del bounds["flame"]
    bounds["supply_air"] = event.PointBounds(
        sensed="air_temp", uncertainty=0.5, holds=draw(st.sampled_from([1000, 3000]))
    )
    story = Story(draw, bounds)
    slugs = ["a", "b", "c"][: draw(st.integers(1, 3))]
    steps = []
    for slug in slugs:
        expect = () if monitor else tuple(draw(forms(kinds, f"{slug}.{k + 1}", monitor=False)) for k in range(2))
        steps.append(plan.Step(slug=slug, title=slug, expect=expect))
    story.lines = [header(event.SourceBounds(points=bounds, call_width=10))]
    story.lines.append(document("sequence", plan.Sequence(name="s", title="s", group="cool", steps=tuple(steps))))
    if monitor:
        expect = tuple(draw(forms(kinds, f"m.{k + 1}", monitor=True)) for k in range(2))
        story.lines.append(document("monitor", plan.Monitor(name="m", title="m", expect=expect)))
    story.snapshot(0)
    for _ in range(draw(st.integers(0, 2))):
        story.anything()
    story.told = story.later()
    story.lines.append(event.Settled(t=story.told))
    story.lines.append(event.SequenceMark(t=story.t, name="s", phase="begin"))
    for slug in slugs:
        story.step(slug)
    story.lines.append(event.SequenceMark(t=story.t, name="s", phase="end"))
    return numbered(story.lines)
