"""The guard: what waits or refuses before anything moves. It is not an interlock, and nothing may rely on it.

``Guarded`` wraps every rig; the registry hands out nothing unguarded. Each rule is a function of its own
(:mod:`.rules`), the compressor's figures stand in :mod:`.compressor`, the safe order in :mod:`.order`.
"""

from stagecall.rigs.guard.clearance import Challenge, Clearance, Go, Refuse, Wait
from stagecall.rigs.guard.compressor import MINIMUM_OFF, MINIMUM_ON, STARTS, STARTS_WINDOW, CompressorHistory
from stagecall.rigs.guard.energy import Act, Circumstances, DryRun, Ground, stands_against
from stagecall.rigs.guard.guarded import Guarded
from stagecall.rigs.guard.premises import Premises

__all__ = [
    "MINIMUM_OFF",
    "MINIMUM_ON",
    "STARTS",
    "STARTS_WINDOW",
    "Act",
    "Challenge",
    "Circumstances",
    "Clearance",
    "CompressorHistory",
    "DryRun",
    "Go",
    "Ground",
    "Guarded",
    "Premises",
    "Refuse",
    "Wait",
    "stands_against",
]
