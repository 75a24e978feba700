"""Impedance of a load from what its sheet says."""

from __future__ import annotations

import math


def load_ohms(va: float, power_factor: float, volts: float = 24.0) -> complex:
    """Complex ohms of an inductive load that takes *va* at *volts* with that *power_factor*.

    Of a coil: once with its sealed, once with its inrush VA. Usual power factors are 0.3 to 0.5 sealed and 0.2 to 0.4
    unsealed (trade knowledge; no data sheet seen).

    Raises:
        ValueError: no VA, or a power factor outside 0 to 1.
    """
    if va <= 0 or not 0 <= power_factor <= 1:
        raise ValueError(f"{va:g} VA at a power factor of {power_factor:g} is no load")
    magnitude = volts * volts / va
    return complex(magnitude * power_factor, magnitude * math.sqrt(1 - power_factor * power_factor))
