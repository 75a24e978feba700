"""What a person is asked to do at the control, where calls are witnessed and not made."""

from __future__ import annotations

from typing import Literal

import msgspec


class ControlAsk(msgspec.Struct, frozen=True, kw_only=True):
    """What to ask of an installed thermostat, where calls are witnessed: a demand, a period, a timed override."""

    demand: Literal["heat", "cool", "none"] | None = None
    period: Literal["occupied", "unoccupied"] | None = None
    override: bool = False

    def __str__(self) -> str:
        asked = {
            "heat": "HEAT, 5 °F above the room",
            "cool": "COOL, 5 °F below the room",
            "none": "no demand, set-points 5 °F from the room on both sides",
        }
        said = [f"{self.period.upper()} period"] if self.period else []
        said += ["timed OVERRIDE"] if self.override else []
        said += [asked[self.demand]] if self.demand else []
        return "; ".join(said)
