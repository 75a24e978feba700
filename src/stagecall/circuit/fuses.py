"""When a blade fuse opens, as a pure function of its current.

Source: the vehicle-blade class, trade knowledge; no maker's sheet was found, so nothing may pass or fail by these
figures alone. Each point bounds a healthy fuse: quickest and slowest.
"""

from __future__ import annotations

import math
from typing import Literal

Grade = Literal["low", "typical", "high"]
"""The quickest fuse of the class, the geometric middle, the slowest."""

_NEVER_BELOW = 1.10
_HUNDRED_HOURS = 100 * 3600.0
_POINTS = (  # multiple of the rating: quickest, slowest, in seconds
    (1.35, 0.75, 600.0),
    (2.00, 0.15, 5.0),
    (3.50, 0.04, 0.5),
    (6.00, 0.02, 0.1),
)
_CURVES: dict[Grade, list[tuple[float, float]]] = {
    "low": [(_NEVER_BELOW, _HUNDRED_HOURS), *((multiple, low) for multiple, low, _ in _POINTS)],
    "typical": [
        (_NEVER_BELOW, _HUNDRED_HOURS),
        *((multiple, math.sqrt(low * high)) for multiple, low, high in _POINTS),
    ],
    "high": [(multiple, high) for multiple, _, high in _POINTS],
}


def opens_after(amps: float, rating: float, grade: Grade = "typical") -> int | None:
    """Milliseconds of steady *amps* after which a fuse of *rating* amps opens; None if never.

    The class promises at least 100 h at 110 % of the rating, so less opens nothing; below 135 % it bounds no slowest
    fuse. Between the table's points the curve is straight on log-log paper; beyond the last (600 %) the
    melting energy is taken as constant, the time falling with the square of the current.

    Raises:
        ValueError: a rating that is not positive.
    """
    if rating <= 0:
        raise ValueError(f"a fuse cannot be rated {rating:g} A")
    multiple = amps / rating
    curve = _CURVES[grade]
    if multiple < curve[0][0]:
        return None
    last, seconds = curve[-1]
    if multiple >= last:
        return _milliseconds(seconds * (last / multiple) ** 2)
    above = next(i for i, (point, _) in enumerate(curve) if point > multiple)
    (m0, t0), (m1, t1) = curve[above - 1], curve[above]
    along = math.log(multiple / m0) / math.log(m1 / m0)
    return _milliseconds(t0 * (t1 / t0) ** along)


def _milliseconds(seconds: float) -> int:
    return max(1, math.ceil(seconds * 1000))
