"""What a control circuit is made of: two-ended elements between named nodes.

Impedances are complex ohms at line frequency, voltages and currents rms phasors. A node is whatever name stands at an
element's end; ``EARTH`` is the reference that every node leaks to.
"""

from __future__ import annotations

import msgspec

EARTH = "earth"
"""The node of zero volts. Grounding a common is a ``Wire`` from it to here."""


class Wire(msgspec.Struct, frozen=True):
    """A conductor, joint, resistor, fixed load or leak: an impedance that never changes.

    ``ohms`` of 0 joins its two nodes into one; the current through such a wire is then not known.
    """

    name: str
    a: str
    b: str
    ohms: complex


class Contact(msgspec.Struct, frozen=True):
    """Closed it has ``ohms``, open it conducts nothing. A fuse is a contact that is opened for good."""

    name: str
    a: str
    b: str
    ohms: float = 0.01


class Coil(msgspec.Struct, frozen=True):
    """An electromagnet: its impedance is lower while the armature has not sealed, so it draws an inrush."""

    name: str
    a: str
    b: str
    sealed: complex
    unsealed: complex


class Source(msgspec.Struct, frozen=True):
    """A transformer's secondary: ``volts`` open-circuit (from ``b`` to ``a``) behind ``ohms``.

    Its scale is part of the state: 1 at nominal line volts, less in a brown-out, 0 when dead. A dead secondary is its
    ``dead`` impedance, which is the magnetising impedance where its primary is disconnected; None leaves ``ohms``.
    """

    name: str
    a: str
    b: str
    volts: complex
    ohms: complex
    dead: complex | None = None


Element = Wire | Contact | Coil | Source
