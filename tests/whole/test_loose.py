"""A connection that lets go again and again ends every run all the same."""

from __future__ import annotations

import pytest

from stagecall.run.trial import Job, work

UNCERTAIN = [
    ("a2l-split", "one-call-one-load", "conductor-loose@leak-R"),
    ("a2l-split", "cool-one-stage", "conductor-loose@smoke-R"),
]


@pytest.mark.parametrize(("system", "sequence", "fault"), UNCERTAIN)
def test_a_compressor_that_never_rests_long_enough_ends_the_sequence(system: str, sequence: str, fault: str) -> None:
    done = work(Job(system=system, kit="full", sequence=sequence, faults=(fault,)))

    assert not done.trials[0].broken
    assert "cut short" in done.trials[0].trace.stretches
