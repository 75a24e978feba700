"""Faults by name: what fails is exactly what the fault's file says, sequence by sequence from a rested plant."""

from __future__ import annotations

import pytest

from stagecall.model.fault import Caught
from whole.harness import LIBRARY, must_run, perform

CLAIMS = [
    pytest.param(
        f"{name}@{caught.at}" if caught.at else name,
        caught,
        id=f"{name}-{caught.at}-{caught.system}-{caught.kit}",
        marks=[pytest.mark.thorough] if place else [],
    )
    for name in LIBRARY.names("fault")
    for place, caught in enumerate(LIBRARY.load("fault", name).document.caught_by)
]
"""The first of each fault is tried every time, the further ones by the thorough tests."""


@pytest.mark.parametrize(("fault", "caught"), CLAIMS)
def test_a_fault_fails_exactly_what_its_file_names(fault: str, caught: Caught) -> None:
    failed: set[str] = set()
    for sequence in must_run(caught.system):
        failed |= perform(caught.system, sequence, kit=caught.kit, faults=[fault]).failed()

    assert failed == {*caught.sequences, *caught.monitors}


@pytest.mark.parametrize("fault", LIBRARY.names("fault"))
def test_a_fault_that_nothing_catches_says_why(fault: str) -> None:
    for caught in LIBRARY.load("fault", fault).document.caught_by:
        assert bool(caught.sequences or caught.monitors) != bool(caught.unseen)
