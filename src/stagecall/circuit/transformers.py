"""Control transformers as a source behind an impedance.

Source of the table: derived from no-load volts of 27 to 28.5 and full-load volts of 24 to 25 at 120 V in, and from
bolted-short currents of 10 to 13 A (40 VA) and 20 to 23 A (75 VA). Inherently limited types sag sooner.
"""

from __future__ import annotations

import cmath
import math
from itertools import pairwise

from stagecall.circuit.elements import Source

_THEVENIN = ((20.0, 28.5, 4.8), (40.0, 28.0, 2.1), (75.0, 28.3, 1.2), (100.0, 28.0, 0.85))
"""VA, open-circuit volts, ohms."""

NOMINAL_VOLTS = 24.0

MAGNETISING_SHARE = 0.1
"""Exciting current as a share of rated current, a quarter turn behind: 5 to 30 % is trade knowledge without source."""


def transformer(  # noqa: PLR0913 - a plate's figures, and where it is connected
    name: str, a: str, b: str, va: float, *, regulation: float | None = None, phase_degrees: float = 0.0
) -> Source:
    """A secondary of nominally 24 V between *a* (hot) and *b* (common).

    Args:
        name: the source's.
        a: hot node.
        b: common node.
        va: what its plate says. Without *regulation*, 20 to 100: volts and ohms between the table's are interpolated.
        regulation: the share by which the unloaded volts exceed 24 V at full load, where it is known (usual 0.12-0.17).
        phase_degrees: 0, or 180 for a secondary or primary connected the wrong way round.

    Raises:
        ValueError: a VA outside the table, or a regulation that is not positive.
    """
    if regulation is None:
        volts, ohms = _from_table(va)
    else:
        if va <= 0 or regulation <= 0:
            raise ValueError(f"{name!r} cannot be {va:g} VA with a regulation of {regulation:g}")
        volts, ohms = NOMINAL_VOLTS * (1 + regulation), regulation * NOMINAL_VOLTS**2 / va
    dead = 1j * NOMINAL_VOLTS**2 / (va * MAGNETISING_SHARE)
    return Source(name, a, b, cmath.rect(volts, math.radians(phase_degrees)), complex(ohms), dead)


def _from_table(va: float) -> tuple[float, float]:
    for (va0, volts0, ohms0), (va1, volts1, ohms1) in pairwise(_THEVENIN):
        if va0 <= va <= va1:
            along = math.log(va / va0) / math.log(va1 / va0)
            return volts0 + (volts1 - volts0) * along, ohms0 * (ohms1 / ohms0) ** along
    raise ValueError(f"no figures for {va:g} VA: known are {_THEVENIN[0][0]:g} to {_THEVENIN[-1][0]:g} VA")
