"""A person at a rig that is made by hand, who does what a test says and looks at a clock that the test turns."""

from __future__ import annotations

from datetime import UTC, datetime

from stagecall.model.event import PointBounds, SourceBounds
from stagecall.rigs.by_hand import ByHandRig
from stagecall.rigs.clock import HandClock
from stagecall.rigs.contract import Batch

BOUNDS = SourceBounds(
    points={
        "blower": PointBounds(sensed="person", late_on=(1000, 2000), late_off=(1000, 2000), blind=1000),
        "contactor": PointBounds(sensed="person", late_on=(1000, 2000), late_off=(1000, 2000), blind=1000),
        "supply_air": PointBounds(sensed="air_temp", uncertainty=0.56, holds=180_000),
    },
    call_width=1000,
)


class PromptRig(ByHandRig):
    """A by-hand rig whose person does each thing asked 700 ms later, and sees the blower follow G.

    ``typed``: lines with the moment at which they are typed, for all else.
    """

    def __init__(self, typed: dict[int, str] | None = None) -> None:
        self.clock = HandClock(datetime(2026, 1, 1, tzinfo=UTC))
        super().__init__(BOUNDS, self.clock, "bench")
        self.typed = dict(typed or {})
        self.said: list[str] = []

    def _advance(self, until: int) -> Batch:
        batch = super()._advance(until)
        for t in [t for t in self.typed if t <= self.now]:
            self.hear(self.typed.pop(t))
        for text in self.words():
            self.said.append(text)
            self.react(text)
        return batch

    def react(self, text: str) -> None:
        if "Press Enter" in text or "Enter: all is so" in text:
            self.later(700, "")
        if "Make the call: join R to G." in text:
            self.later(2200, "blower on")
        if "End the call: take G off R." in text:
            self.later(3100, "blower off")

    def later(self, ms: int, text: str) -> None:
        t = self.now + ms
        while t in self.typed:
            t += 1
        self.typed[t] = text
