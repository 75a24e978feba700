"""The 24 V network as a pure function: netlist, contacts, coils and source volts in; voltages and currents out."""

from __future__ import annotations

from stagecall.circuit.conductors import conductor_ohms
from stagecall.circuit.elements import EARTH, Coil, Contact, Element, Source, Wire
from stagecall.circuit.fuses import opens_after
from stagecall.circuit.loads import load_ohms
from stagecall.circuit.network import Network, Solution, State
from stagecall.circuit.transformers import NOMINAL_VOLTS, transformer

__all__ = [
    "EARTH",
    "NOMINAL_VOLTS",
    "Coil",
    "Contact",
    "Element",
    "Network",
    "Solution",
    "Source",
    "State",
    "Wire",
    "conductor_ohms",
    "load_ohms",
    "opens_after",
    "transformer",
]
