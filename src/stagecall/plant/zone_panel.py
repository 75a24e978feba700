"""The panel of an air system with two zones: it opens and shuts dampers and passes one mode at a time on."""

from __future__ import annotations

from typing import ClassVar, Literal

from stagecall.plant.board import Acting, Board, BoardParameters
from stagecall.plant.parameters import Parameters, Time
from stagecall.plant.part import Bench, Medium

Mode = Literal["cool", "heat"]
_CALL: dict[Mode, str] = {"cool": "Y", "heat": "W"}
ZONES = ("1", "2")


class ZonePanelParameters(BoardParameters, frozen=True, kw_only=True):
    """Dampers move for ``damper_lead`` before the machines are called, and stand for ``purge_time`` after.

    Between opposite modes pass ``changeover_delay``.
    """

    damper_lead: Time
    purge_time: Time
    changeover_delay: Time


class ZonePanel(Board):
    """Zones 1 and 2 call Y and W, zone 1 also G. The first mode called has its way until no zone calls it any more.

    ``shut_1`` and ``shut_2`` power the dampers of the zones that do not call; at rest both stand open.
    """

    takes: ClassVar[type[Parameters]] = ZonePanelParameters
    terminals: ClassVar[dict[str, Medium]] = {
        "R": "control", "C": "control", "Y1": "control", "W1": "control", "G": "control", "Y2": "control",
        "W2": "control", "cool": "drive", "heat": "drive", "fan": "drive", "shut_1": "drive", "shut_2": "drive",
    }  # fmt: skip
    inputs: ClassVar[tuple[str, ...]] = ("Y1", "W1", "G", "Y2", "W2")
    p: ZonePanelParameters

    def __init__(self, bench: Bench, name: str, parameters: ZonePanelParameters) -> None:
        super().__init__(bench, name, parameters)
        self._last: Mode | None = None
        self._ended_at = -parameters.changeover_delay

    def operate(self, *, rested: bool) -> Acting:  # noqa: ARG002 - a panel begins anew after any loss of power
        """Serve one mode after the other."""
        while True:
            self._shut(())
            mode = self._first_called()
            if mode is None:
                yield from self._rest()
            else:
                yield from self._serve(mode)

    def _rest(self, until: int | None = None) -> Acting:
        """Only the fan, until something may be served, or until then."""
        while self._first_called() is None and (until is None or self.now < until):
            self.outputs["fan"].set(self.on("G"))
            self.check()
            moments = [self._ended_at + self.p.changeover_delay, *([] if until is None else [until])]
            yield self.bell.wait(min((moment for moment in moments if moment > self.now), default=None))
            self.check()

    def _first_called(self) -> Mode | None:
        """The mode to serve now: the last one at once, the opposite one after the change-over delay."""
        for mode in ("heat", "cool"):
            waits = self._last not in (None, mode) and self.now < self._ended_at + self.p.changeover_delay
            if self._callers(mode) and not waits:
                return mode
        return None

    def _callers(self, mode: Mode) -> tuple[str, ...]:
        return tuple(zone for zone in ZONES if self.on(f"{_CALL[mode]}{zone}"))

    def _serve(self, mode: Mode) -> Acting:
        """Dampers first, then the machine, until no zone calls; then the dampers stand while the rest is blown out."""
        zones = self._callers(mode)
        self._shut(zones)
        yield from self.hold(self.p.damper_lead, until=lambda: not self._callers(mode))
        while callers := self._callers(mode):
            zones = callers
            self._shut(zones)
            self.outputs[mode].set(True)
            self.outputs["fan"].set(mode == "cool" or self.on("G"))
            self.check()
            yield self.bell.wait()
            self.check()
        self.outputs[mode].set(False)
        self._last, self._ended_at = mode, self.now
        yield from self._rest(until=self.now + self.p.purge_time)

    def _shut(self, callers: tuple[str, ...]) -> None:
        for zone in ZONES:
            self.outputs[f"shut_{zone}"].set(bool(callers) and zone not in callers)
