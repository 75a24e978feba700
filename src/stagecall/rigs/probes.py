"""Temperatures on a board's analog inputs, each read as often as the kit says."""

from __future__ import annotations

import math
from collections.abc import Iterator

from stagecall.errors import RigLostError
from stagecall.model.kit import Probe
from stagecall.rigs.channels import Channels, listed
from stagecall.rigs.exchange import Exchange

SUPPLY = 5.0
"""Volts that the board's converter measures by."""
CELSIUS = 273.15
OPEN_WIRE = 0.02
"""Share of the supply that no thermistor within its range leaves: less is a short, more than the rest an open lead."""


def temperature(probe: Probe, volts: float) -> float | None:
    """What a probe's voltage says, °C; None where its lead is open or shorted."""
    share = volts / SUPPLY
    if not OPEN_WIRE < share < 1 - OPEN_WIRE:
        return None
    resistance = share / (1 - share)  # of the 10 kilohm that it has at 25 °C
    return 1 / (1 / (25 + CELSIUS) + math.log(resistance) / probe.beta) - CELSIUS


class Probes:
    """Reads what is wanted when it is due."""

    def __init__(self, channels: Channels, exchange: Exchange) -> None:
        self._channels, self._exchange = channels, exchange
        self._due: dict[str, int] = {}

    def sample(self, points: frozenset[str], now: int) -> None:
        """Read these from *now* (ms) on, and no others."""
        every = self._channels.every
        self._due = {name: self._due.get(name, now + every[name]) for name in every if name in points}

    def read(self, now: int) -> Iterator[tuple[str, float]]:
        """What is due, °C or K.

        Raises:
            RigLostError: the board does not answer, or nonsense.
        """
        for name, due in self._due.items():
            if now < due:
                continue
            every = self._channels.every[name]
            self._due[name] = due + every * (1 + (now - due) // every)
            values = [value for part in self._channels.parts(name) if (value := self._one(part)) is not None]
            if len(values) == len(self._channels.parts(name)):
                yield name, round(values[0] - sum(values[1:]), 2)

    def _one(self, name: str) -> float | None:
        probe = self._channels.board.probes[name]
        volts = self._exchange.done(f"MEAS:VOLT? {listed([probe.analog])}").data
        try:
            return temperature(probe, float(volts))
        except ValueError:
            raise RigLostError(f"{self._exchange.link.name} answers a measurement with nonsense: {volts}") from None
