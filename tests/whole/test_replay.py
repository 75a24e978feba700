"""Live equals replayed: a verdict is a function of the log, and of nothing else."""

from __future__ import annotations

import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from resealed import strip_verdicts
from stagecall.model.event import Edge, Seal, VerdictLine
from stagecall.record import read
from whole.harness import LIBRARY, must_run, perform, replayed, unnumbered

SYSTEM = "split-gas-cool"
FAULTS = sorted(
    {
        f"{name}@{caught.at}" if caught.at else name
        for name in LIBRARY.names("fault")
        for caught in LIBRARY.load("fault", name).document.caught_by
        if caught.system == SYSTEM
    }
)


@settings(max_examples=25)
@given(
    sequence=st.sampled_from(must_run(SYSTEM)),
    fault=st.sampled_from([(), *((name,) for name in FAULTS)]),
    seed=st.integers(0, 10_000),
    drawn=st.booleans(),
    kit=st.sampled_from(["full", "board-24v"]),
)
def test_live_equals_replayed_whatever_the_fault_seed_and_kit(
    sequence: str, fault: tuple[str, ...], seed: int, drawn: bool, kit: str
) -> None:
    performed = perform(SYSTEM, sequence, faults=fault, seed=seed, drawn=drawn, kit=kit)

    assert replayed(performed.lines) == [unnumbered(line) for line in performed.verdicts()]


@pytest.mark.parametrize("pace", [3.0, 111.0, 4_000.0])
def test_how_often_the_rig_is_polled_changes_no_byte(pace: float) -> None:
    sequence = "gas-heat-one-stage"

    assert perform(SYSTEM, sequence, pace=pace).contents == perform(SYSTEM, sequence).contents


def test_the_same_seed_gives_the_same_bytes_and_another_does_not() -> None:
    first, again, other = (perform(SYSTEM, "fan", seed=seed).contents for seed in (1, 1, 2))

    assert first == again
    assert first != other


def test_a_log_stripped_of_its_verdicts_and_sealed_anew_gives_the_same_verdicts() -> None:
    performed = perform(SYSTEM, *must_run(SYSTEM))

    stripped = list(read(strip_verdicts(performed.contents)).lines)

    kept = [line for line in performed.lines if not isinstance(line, Seal | VerdictLine)]
    now = {
        before.n: after.n
        for before, after in zip(kept, [line for line in stripped if not isinstance(line, Seal)], strict=True)
    }
    expected = [
        msgspec.structs.replace(line, n=-1, lines=tuple(now[n] for n in line.lines)) for line in performed.verdicts()
    ]
    assert replayed(stripped) == expected


def test_one_changed_edge_changes_the_verdicts() -> None:
    performed = perform(SYSTEM, "compressor-minimum-off")
    decided_by = {n for line in performed.verdicts() for n in line.lines}
    edges = [i for i, line in enumerate(performed.lines) if isinstance(line, Edge) and line.n in decided_by]
    live = [unnumbered(line) for line in performed.verdicts()]

    assert edges
    for i in edges:
        edge = performed.lines[i]
        assert isinstance(edge, Edge)
        changed = [*performed.lines[:i], msgspec.structs.replace(edge, state="unheard of"), *performed.lines[i + 1 :]]
        assert replayed(changed) != live
