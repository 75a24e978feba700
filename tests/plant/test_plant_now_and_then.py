"""What works only now and then does so by the run's seed: relays, outputs, an ignitor, a motor, a switch."""

from __future__ import annotations

import msgspec
import pytest
from traced import COMPRESSOR, FLAME, IGNITOR, INDUCER, LIBRARY, MIN, S, Traced, fault

from stagecall.model.fault import AppliedFault

SEEDS = range(12)


def starts(name: str, calls: tuple[str, ...], key: str, run: int) -> list[int]:
    """How often the point came on at the first call, seed by seed."""
    return [len(Traced(faults=(fault(name),), seed=seed).call(*calls, run=run).times(key, "on")) for seed in SEEDS]


@pytest.mark.parametrize(
    ("name", "calls", "key", "run"),
    [
        ("inducer-now-and-then", ("W1",), INDUCER, 20 * S),
        ("control-output-now-and-then", ("W1",), INDUCER, 20 * S),
        ("ignitor-cracked", ("W1",), IGNITOR, 40 * S),
        ("contactor-relay-now-and-then", ("Y1", "G"), COMPRESSOR, 20 * S),
    ],
)
def test_some_seeds_start_at_the_first_call_and_some_do_not(
    name: str, calls: tuple[str, ...], key: str, run: int
) -> None:
    counted = starts(name, calls, key, run)

    assert 0 in counted
    assert 1 in counted
    assert counted == starts(name, calls, key, run)


def test_a_compressor_that_stays_locked_now_and_then_tries_again_when_its_overload_has_closed() -> None:
    ran = []
    for seed in SEEDS:
        unit = Traced(faults=(fault("compressor-starts-now-and-then"),), seed=seed).call("Y1", "G", run=2 * MIN)
        ran.append(unit.state[COMPRESSOR])

    assert {*ran} == {"on", "off"}


@pytest.mark.parametrize("name", ["pressure-switch-trembles", "flame-signal-comes-and-goes"])
def test_what_trembles_puts_the_flame_out_and_lets_it_light_again(name: str) -> None:
    furnace = Traced(faults=(fault(name),)).call("W1", run=20 * MIN)

    assert len(furnace.times(FLAME, "on")) > 1


def test_a_welded_output_stays_live_and_a_dead_one_never_is() -> None:
    def control(change: dict[str, str]) -> AppliedFault:
        document = msgspec.structs.replace(LIBRARY.load("fault", "control-output-welded").document, change=change)
        return AppliedFault(fault=document, target="control")

    welded = Traced(faults=(control({"welded": "G"}),))
    assert welded.state["wire_G by call_volts"] == "on"
    assert welded.call("G", run=MIN).call(run=MIN).state["blower by amps"] == "on"

    dead = Traced(faults=(control({"dead": "Y1"}),)).call("Y1", "G", run=MIN)
    assert dead.state["wire_Y1 by call_volts"] == "off"
    assert dead.state["wire_G by call_volts"] == "on"
