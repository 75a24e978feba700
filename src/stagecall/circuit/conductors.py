"""Resistance of copper conductors.

Source: tables of solid annealed copper at 20 °C; several makers' tables agree, tinned ones are 2 % higher.
"""

from __future__ import annotations

OHMS_PER_1000_FT = {14: 2.53, 16: 4.02, 18: 6.39, 20: 10.15, 22: 16.14, 24: 25.7}
"""By AWG gauge, one conductor (a loop is twice its run)."""

_METRES_PER_1000_FT = 304.8


def conductor_ohms(gauge: int, metres: float) -> float:
    """Ohms of one copper conductor of that AWG *gauge*, *metres* long.

    Raises:
        ValueError: a gauge that is not in the table, or a negative length.
    """
    if gauge not in OHMS_PER_1000_FT:
        known = ", ".join(map(str, OHMS_PER_1000_FT))
        raise ValueError(f"{gauge} AWG is not a gauge of control wire; known: {known}")
    if metres < 0:
        raise ValueError(f"a conductor cannot be {metres:g} m long")
    return OHMS_PER_1000_FT[gauge] * metres / _METRES_PER_1000_FT
