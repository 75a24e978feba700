from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import pytest
from traced import FAULTS, FLAME, LIBRARY, MIN, VALVE, S, Traced, fault, plan, wire_fault

from stagecall.errors import UsageError
from stagecall.model.fault import AppliedFault
from stagecall.plant import build
from stagecall.plant.befalling import targets

PLANT = Path(__file__).parents[2] / "src" / "stagecall" / "plant"


SILENT = {
    "charge-low", "filter-blocked", "run-capacitor-weak",
    "high-pressure-stuck-closed", "limit-stuck-closed", "power-up-delay-missing", "humidifier-output-dead",
    "humidifier-runs-without-heat",
    "blower-tap-too-low", "charge-too-much", "compressor-worn", "condenser-dirty", "contactor-relay-now-and-then",
    "fan-capacitor-weak", "flame-seen-too-slowly", "fuse-too-large", "high-pressure-opens-early", "input-high",
    "input-low", "limit-bridged", "low-pressure-bridged", "low-pressure-bypass-missing", "rollout-bridged",
    "strikes-not-counted", "thermostat-fan-set-for-electric-heat", "thermostat-minimum-off-missing",
    "thermostat-set-for-heat-pump", "thermostat-set-for-heat-pump-o", "transformer-on-high-tap",
    "transformer-on-low-tap", "trials-without-end",
}  # fmt: skip
"""They change figures only, or what the story below does not ask for."""


def story(*faults: object, seed: int = 0) -> list[tuple[int, str, str]]:
    """Every kind of call once, with a call made early and a power interruption."""
    traced = Traced(faults=faults, seed=seed)  # type: ignore[arg-type]
    first = [(0, key, state) for key, state in traced.state.items()]
    traced.call("G", run=MIN).call(run=MIN)
    traced.call("Y1", "G", run=4 * MIN).call("G", run=5 * S).call("Y1", "G", run=10 * MIN).call(run=6 * MIN)
    traced.call("W1", run=5 * MIN).call(run=5 * MIN)
    return first + traced.trace


def test_no_faults_name_occurs_in_the_plant() -> None:
    text = "\n".join(file.read_text() for file in PLANT.rglob("*.py"))
    for name in FAULTS:
        assert name not in text
        assert name.replace("-", "_") not in text


def test_the_ten_are_there() -> None:
    assert {
        "contactor-welded", "contactor-coil-open", "run-capacitor-dead", "blower-relay-stuck-on",
        "minimum-off-timer-missing", "flame-rod-dirty", "pressure-switch-stuck-closed", "limit-open",
        "y-open", "c-lost",
    } <= set(FAULTS)  # fmt: skip


@pytest.mark.parametrize("name", [name for name in FAULTS if name not in SILENT])
def test_every_fault_leaves_another_trace_than_health(name: str) -> None:
    one = fault(name)
    if one.target in targets(one.fault, plan("split-gas-cool")):
        assert story(one) != story()


def test_silent_faults_leave_the_same_trace() -> None:
    assert set(FAULTS) >= SILENT
    assert [name for name in sorted(SILENT) if story(fault(name)) != story()] == []


@pytest.mark.parametrize("name", FAULTS)
def test_severity_lies_in_its_range_and_changes_are_known_words(name: str) -> None:
    document = LIBRARY.load("fault", name).document
    if document.severity is not None:
        spread = document.severity.range
        assert spread.low is not None
        assert spread.high is not None
        assert spread.low <= document.severity.typical.number <= spread.high


@pytest.mark.parametrize(("microamps", "burns"), [("0.3 µA", False), ("0.7 µA", False), ("0.9 µA", True)])
def test_less_dirt_on_the_rod_only_lowers_the_flame_current(microamps: str, burns: bool) -> None:
    furnace = Traced(faults=(fault("flame-rod-dirty", microamps),)).call("W1", run=3 * MIN)
    assert (furnace.state[VALVE] == "on" and len(furnace.times(VALVE, "on")) == 1) is burns
    if burns:
        assert furnace.plant.read("flame_current") == pytest.approx(0.9)
        assert furnace.state[FLAME] == "on"


def test_a_weaker_capacitor_raises_the_amps_and_then_stalls_the_compressor() -> None:
    def drawn(*faults: AppliedFault) -> float:
        unit = Traced(faults=faults).call("Y1", "G", run=2 * S)
        return float(unit.plant.read("compressor_amps"))

    amps = [drawn(fault("run-capacitor-dead", share)) for share in ("90 %", "80 %", "61 %", "59 %", "0 %")]

    assert amps == sorted(amps)
    assert amps[0] == pytest.approx(drawn() * 1.08)
    assert amps[3] == amps[4] == 75


def test_a_worse_joint_leaves_the_contactor_less_volts_until_it_no_longer_pulls_in() -> None:
    volts, runs = [], []
    for joint in ("0 ohm", "5 ohm", "10 ohm", "20 ohm", "200 ohm"):
        unit = Traced(faults=(wire_fault("joint", "outdoor-Y", joint),)).call("Y1", "G", run=MIN)
        volts.append(unit.plant._parts["condenser.contactor"].level("coil").value)
        runs.append(unit.state["compressor by amps"])
    assert volts == sorted(volts, reverse=True)
    assert len(set(volts)) == 5
    assert runs[0] == "on"
    assert runs[-1] == "off"
    assert volts[-1] < 4


def test_a_two_hundred_ohm_joint_reads_live_until_it_is_loaded() -> None:
    unit = Traced(faults=(wire_fault("joint", "outdoor-Y", "200 ohm"),))
    electric = unit.plant._electric
    unit.call("Y1", run=50)
    solution = electric._wiring.network.solve(electric._state)
    assert solution.volts("condenser.Y", "condenser.C") > 24
    unit.wait(100)
    solution = electric._wiring.network.solve(electric._state)
    assert solution.volts("condenser.Y", "condenser.C") < 5
    unit.wait(S)  # the board sees its call gone, lets go, and holds its minimum off
    assert not unit.times("compressor by amps", "on")


def test_r_shorted_to_common_opens_the_fuse_within_its_curve_and_everything_is_dead() -> None:
    unit = Traced(faults=(wire_fault("short_to_common", "thermostat-R"),))
    unit.wait(2 * S)
    assert unit.state["wire_R by call_volts"] == "off"
    unit.call("Y1", "G", run=MIN)
    assert unit.state["compressor by amps"] == "off"
    assert unit.plant.read("control_voltage") < 0.5


@pytest.mark.parametrize("name", ["thermostat-R", "thermostat-C"])
def test_a_thermostat_cut_off_from_its_transformer_reads_nothing_where_the_furnace_has_its_24_volts(name: str) -> None:
    sound, unit = Traced(), Traced(faults=(wire_fault("open", name),))
    assert sound.plant.read("thermostat_voltage") == pytest.approx(sound.plant.read("control_voltage"), abs=0.1)
    assert unit.plant.read("thermostat_voltage") < 0.5
    assert unit.plant.read("control_voltage") > 24


def test_y_shorted_to_common_opens_the_fuse_only_once_it_is_called() -> None:
    unit = Traced(faults=(wire_fault("short_to_common", "thermostat-Y1"),)).wait(MIN)
    assert unit.state["wire_R by call_volts"] == "on"
    unit.call("Y1", run=5 * S)
    assert unit.state["wire_R by call_volts"] == "off"
    unit.call(run=S)
    unit.plant.clear("fuse")
    unit.wait(MIN)
    assert unit.state["wire_R by call_volts"] == "on"


def test_an_overload_that_no_fuse_opens_only_sags_the_transformer() -> None:
    unit = Traced(settings={"furnace.board.own_va": "60 VA"}).wait(10 * MIN)
    assert unit.plant.read("control_voltage") < 23
    assert unit.state["wire_R by call_volts"] == "on"


def test_a_short_to_the_neighbour_makes_two_calls_of_one() -> None:
    unit = Traced(faults=(wire_fault("short_to_neighbour", "thermostat-Y1"),)).call("G", run=MIN)
    assert unit.state["compressor by amps"] == "on"


def test_crossed_conductors_swap_their_calls() -> None:
    unit = Traced(faults=(wire_fault("crossed_with_neighbour", "thermostat-G"),)).call("G", run=MIN)
    assert unit.times("inducer by amps", "on")
    assert unit.state["blower by amps"] == "off"


def test_a_lost_common_puts_the_outdoor_loads_in_series_and_none_of_them_runs() -> None:
    unit = Traced(faults=(fault("c-lost"),)).call("Y1", "G", run=10 * MIN)
    assert not unit.times("compressor by amps", "on")
    electric = unit.plant._electric
    solution = electric._wiring.network.solve(electric._state)
    assert solution.volts("condenser.R", "furnace.C") > 20
    assert solution.volts("condenser.R", "condenser.C") < 2


@pytest.mark.parametrize(
    ("applied", "message"),
    [
        (fault("y-open", target="thermostat-Y"), "has no 'thermostat-Y'; did you mean 'thermostat-Y1'?"),
        (fault("contactor-welded", target="condenser.contactr"), "did you mean 'condenser.contactor'?"),
        (fault("contactor-welded", target="condenser.board"), "befalls a contactor, and condenser.board is a"),
        (fault("contactor-welded", "3 s"), "has no severity"),
        (fault("flame-rod-dirty", "3 s"), "'3 s' is not a flame current"),
        (wire_fault("joint", "thermostat-Y1"), "needs a severity in ohms"),
    ],
)
def test_a_fault_that_does_not_fit_is_a_clear_complaint(applied: object, message: str) -> None:
    with pytest.raises(UsageError, match=message):
        Traced(faults=(applied,))  # type: ignore[arg-type]


def test_faults_add_up() -> None:
    both = Traced(faults=(fault("contactor-welded"), fault("y-open"))).call("Y1", run=MIN)
    assert both.state["compressor by amps"] == "on"
    assert not both.times("contactor by coil_volts", "on")


def test_a_fault_of_one_run_is_gone_in_the_next() -> None:
    plan = Traced().plant._blueprint
    build(plan, faults=(fault("contactor-welded"),)).advance(MIN)
    assert story() == story()
    assert Traced(on=plan).state["compressor by amps"] == "off"


def test_a_loose_conductor_lets_go_for_moments_that_its_seed_decides() -> None:
    loose = wire_fault("loose", "thermostat-G")

    runs = [story(loose, seed=seed) for seed in (0, 0, 1)]

    assert runs[0] == runs[1] != runs[2]
    assert runs[0] != story()
    wire = [(t, state) for t, key, state in runs[0] if key.startswith("wire_G")]
    gaps = [after - t for (t, state), (after, _) in pairwise(wire) if state == "off" and t]
    assert any(200 <= gap <= 5 * S for gap in gaps)
