"""The very sequences of a bench through the unmodified firmware, beside the model: the same kit, machine and seed."""

from __future__ import annotations

from pathlib import Path

import pytest
from bench_runs import BenchRun, differences, manned, on_the_bench, on_the_model, runnable

from stagecall.model.verdict import Verdict
from stagecall.rigs.contract import Move

FURNACE = ("trainer-mockup", "bench-16")
TWO_STAGES = ("two-stage-gas-cool", "bench-16")
HEAT_PUMP = ("heat-pump-strips-o", "bench-16-heat-pump")
ALL = [
    *((*FURNACE, name) for name in runnable(*FURNACE)),
    *((*HEAT_PUMP, name) for name in runnable(*HEAT_PUMP)),
    *((*TWO_STAGES, name) for name in ("cool-two-stages", "gas-heat-two-stages", "second-stage-alone")),
]


def _agree(harness: Path, firmware: Path, *what: str, **how: float) -> BenchRun:
    system, kit, sequence = what
    bench = on_the_bench(harness, firmware, system, kit, sequence, **how)
    model = on_the_model(system, kit, sequence)

    assert list(differences(system, kit, (sequence,), model, bench.performed)) == []
    return bench


def test_a_sequence_through_the_firmware_agrees_with_the_model(harness: Path, avr_build: Path) -> None:
    """With the heartbeat of a real board."""
    bench = _agree(harness, avr_build, *FURNACE, "fan", heartbeat_ms=50)

    assert bench.performed.of(Verdict.PASS)
    assert not bench.performed.of(Verdict.FAIL)


@pytest.mark.thorough
@pytest.mark.parametrize(("system", "kit", "sequence"), ALL)
def test_every_sequence_of_a_bench_agrees_with_the_model(
    harness: Path, avr_build: Path, system: str, kit: str, sequence: str
) -> None:
    bench = _agree(harness, avr_build, system, kit, sequence)

    assert bench.performed.of(Verdict.PASS)
    assert not bench.performed.of(Verdict.FAIL)


@pytest.mark.thorough
@pytest.mark.parametrize(
    ("sequence", "fault"),
    [
        ("fan", "blower-relay-stuck-on"),
        ("fan", "blower-dead"),
        ("pressure-switch-opens", "pressure-switch-stuck-closed"),
        ("gas-heat-one-stage", "gas-valve-coil-open"),
        ("compressor-minimum-off", "minimum-off-timer-missing"),
    ],
)
def test_a_fault_is_found_on_the_bench_as_on_the_model(
    harness: Path, avr_build: Path, sequence: str, fault: str
) -> None:
    """By the same failures: an answer that only follows the host's wait tells nothing of the machine."""
    bench = on_the_bench(harness, avr_build, *FURNACE, sequence, faults=(fault,)).performed
    model = on_the_model(*FURNACE, sequence, faults=(fault,))

    failed, expected = ({(line.of, line.id) for line in run.of(Verdict.FAIL)} for run in (bench, model))
    assert failed == expected
    assert sequence in bench.failed()


@pytest.mark.thorough
@pytest.mark.parametrize("frequency", [50, 60])
@pytest.mark.parametrize("crystal", [0.996, 0.9999, 1.0001, 1.004])
def test_a_board_whose_clock_is_off_times_as_rightly(
    harness: Path, avr_build: Path, frequency: float, crystal: float
) -> None:
    """A crystal is some 100 ppm off at most, a ceramic resonator 0.5 %."""
    bench = _agree(harness, avr_build, *FURNACE, "fan", frequency=frequency, crystal=crystal)
    least, most = bench.drift

    assert least <= 1 / crystal - 1 <= most
    assert most - least < 0.001


def test_without_half_waves_the_bench_sees_nothing(harness: Path, avr_build: Path) -> None:
    bench = on_the_bench(harness, avr_build, *FURNACE, "fan", half_waves=False)
    model = on_the_model(*FURNACE, "fan")

    assert "fan" in bench.performed.failed()
    assert list(differences(*FURNACE, ("fan",), model, bench.performed))


def test_a_host_that_dies_in_a_call_leaves_nothing_called_after_a_second(harness: Path, avr_build: Path) -> None:
    """To the contacts that make the call, and to the 24 V and the switches of the mockup."""
    with manned(harness, avr_build, *FURNACE, "fan") as bench:
        ended: list[int] = []
        bench.mockup.plant.watch_calls(lambda ms, _, state: ended.append(ms) if state == "off" else None)
        bench.mockup.plant.watch_power(lambda ms, _: ended.append(ms))
        bench.rig.snapshot()
        bench.rig._move(Move(calls=frozenset({"G"})))
        bench.mockup.run_for(500)
        bench.rig._poll()
        last = bench.mockup.ms
        assert bench.mockup.plant._calls._made == {"G"}
        ended.clear()
        bench.mockup.run_for(1_500)

        assert bench.mockup.plant._calls._made == set()
        assert len(ended) == 2
        assert 900 < min(ended) - last <= max(ended) - last <= 1_000
