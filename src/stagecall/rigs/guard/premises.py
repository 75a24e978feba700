"""What the guard has to know of a system."""

from __future__ import annotations

from typing import Literal

import msgspec

from stagecall.rigs.guard.compressor import MINIMUM_OFF
from stagecall.rigs.guard.energy import Circumstances


class Premises(msgspec.Struct, frozen=True, kw_only=True):
    """What the guard has to know of the system.

    ``minimum_off``: the maker's figure, ms, where it is known. ``heat_beside_compressor``: heat calls beside a
    compressor call are right (strips with a heat pump in heating). ``valve``: which call moves the reversing valve.
    ``reheat``: heat calls in cooling are right (declared reheat). ``hot_elements``: heating elements may be hot after a
    heat call ends. ``here``: what the run is made on.
    """

    minimum_off: int = MINIMUM_OFF
    heat_beside_compressor: bool = False
    valve: Literal["O", "B", "unknown"] = "unknown"
    reheat: bool = False
    hot_elements: bool = False
    here: Circumstances = Circumstances()
