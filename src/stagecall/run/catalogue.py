"""The faults that a system can have: each entry of the catalogue at each place that it can befall, each change once."""

from __future__ import annotations

import msgspec

from stagecall.documents import Library
from stagecall.model.fault import ANY, AppliedFault, Fault
from stagecall.plant import blueprint
from stagecall.plant.befalling import distinct, targets
from stagecall.run.prepare import parse_fault

CONDUCTOR = "conductor"
"""The part that faults of conductors belong to."""
TOGETHER = "together"
"""The part that faults which come together belong to."""


class Entry(msgspec.Struct, frozen=True, order=True):
    """One fault at its place on one system."""

    text: str
    """As ``--fault`` takes it: ``NAME@TARGET``."""
    name: str
    part: str
    """The kind of part, or :data:`CONDUCTOR`, or :data:`TOGETHER`."""


def catalogue(library: Library, system: str) -> tuple[Entry, ...]:
    """All faults of the library that this system can have, by name and place.

    Of two that come to the same (a named one and a general one at its place) the named one is kept.

    Raises:
        DocumentError: a fault's file is wrong.
    """
    installed = library.load("system", system).document
    plan = blueprint(installed, library.profiles(installed))
    documents: list[Fault] = [library.load("fault", name).document for name in library.names("fault")]
    documents.sort(key=lambda one: one.target == ANY)
    applied = [AppliedFault(fault=one, target=target) for one in documents for target in targets(one, plan)]
    entries = [
        Entry(f"{one.fault.fault}@{one.target}", one.fault.fault, one.fault.part_kind or CONDUCTOR)
        for one in distinct(applied, plan)
    ]
    single = {(one.fault.fault, one.target) for one in applied}
    for document in documents:
        members = [member for name in document.together for member in parse_fault(library, name)]
        if members and all((one.fault.fault, one.target) in single for one in members):
            entries.append(Entry(document.fault, document.fault, TOGETHER))
    return tuple(sorted(entries))
