"""The very sequences of a bench through the unmodified firmware, beside the model: the same kit, machine and seed."""

from __future__ import annotations

from pathlib import Path

import pytest
from bench_runs import differences, on_the_bench, on_the_model, runnable

from stagecall.model.verdict import Verdict

FURNACE = ("trainer-mockup", "bench-16")
TWO_STAGES = ("two-stage-gas-cool", "bench-16")
HEAT_PUMP = ("heat-pump-strips-o", "bench-16-heat-pump")
ALL = [
    *((*FURNACE, name) for name in runnable(*FURNACE)),
    *((*HEAT_PUMP, name) for name in runnable(*HEAT_PUMP)),
    *((*TWO_STAGES, name) for name in ("cool-two-stages", "gas-heat-two-stages", "second-stage-alone")),
]


def _agree(harness: Path, firmware: Path, system: str, kit: str, sequence: str, **how: int) -> None:
    bench = on_the_bench(harness, firmware, system, kit, sequence, seed=1, **how)
    model = on_the_model(system, kit, sequence, seed=1)

    assert list(differences(system, kit, (sequence,), model, bench.performed)) == []
    assert bench.performed.of(Verdict.PASS)


def test_a_sequence_through_the_firmware_agrees_with_the_model(harness: Path, avr_build: Path) -> None:
    """With the heartbeat of a real board."""
    _agree(harness, avr_build, *FURNACE, "fan", heartbeat_ms=50)


@pytest.mark.thorough
@pytest.mark.parametrize(("system", "kit", "sequence"), ALL)
def test_every_sequence_of_a_bench_agrees_with_the_model(
    harness: Path, avr_build: Path, system: str, kit: str, sequence: str
) -> None:
    _agree(harness, avr_build, system, kit, sequence)


def test_without_half_waves_the_bench_sees_nothing(harness: Path, avr_build: Path) -> None:
    bench = on_the_bench(harness, avr_build, *FURNACE, "fan", seed=1, half_waves=False)
    model = on_the_model(*FURNACE, "fan", seed=1)

    assert "fan" in bench.performed.failed()
    assert list(differences(*FURNACE, ("fan",), model, bench.performed))
