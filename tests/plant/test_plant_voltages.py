"""Voltage and current at every 24 V load, against a figure worked out another way: by sweeping drops and currents.

The sweep knows no nodal analysis. It starts from 24 V everywhere, adds up what the loads would draw through each
conductor, takes the drops off again, and repeats until nothing moves.
"""

from __future__ import annotations

import cmath
import math
from typing import Any

import pytest
from traced import MIN, SPLITS, Traced, plan, system

RELAY, CONTROL = 0.02, 0.05
OHMS_PER_1000_FT = {18: 6.39, 20: 10.15}


def z(va: float, power_factor: float) -> complex:
    return cmath.rect(576 / va, math.acos(power_factor))


class Sweep:
    """One system with the given calls, contactor and gas valve sealed or not."""

    def __init__(self, name: str, *, cools: bool, heats: bool, fan: bool, draft: bool) -> None:
        self.system = system(name)
        self.indoor = "furnace" if "furnace" in self.system.equipment else "air_handler"
        self.p: dict[str, Any] = dict(plan(name).typical)
        self.cools, self.heats, self.fan, self.draft = cools, heats, fan, draft
        self.wire = {
            conductor.name: OHMS_PER_1000_FT[conductor.gauge] * conductor.length.to("length") / 304.8
            + 0.02  # two joints
            for conductor in self.system.conductors
        }

    def coil(self, part: str) -> complex:
        p = self.p[part]
        return z(p.sealed_va, p.sealed_power_factor)

    def own(self, board: str) -> complex:
        return z(self.p[board].own_va, self.p[board].own_power_factor)

    def solve(self) -> dict[str, complex]:
        indoor, outdoor = f"{self.indoor}.board", "condenser.board"
        source = self.p[f"{self.indoor}.transformer"]
        regulation, va = source.regulation, source.va
        volts, inner = 24 * (1 + regulation), regulation * 576 / va + self.p[f"{self.indoor}.fuse"].cold_ohms
        v = dict.fromkeys(("R", "Y", "G", "W", "oR", "oY", "oC", "limit"), 24 + 0j) | {"oC": 0j}
        for _ in range(300):
            i: dict[str, complex] = {}
            input_in, input_out = self.p[indoor].input_ohms, self.p[outdoor].input_ohms
            out = {
                "own": (v["oR"] - v["oC"]) / self.own(outdoor),
                "switches": 2 * (v["oR"] - v["oC"]) / (input_out + RELAY),
                "Y": (v["oY"] - v["oC"]) / input_out,
                "contactor": (v["oY"] - v["oC"]) / (self.coil("condenser.contactor") + RELAY) if self.cools else 0j,
            }
            i["oR"] = out["own"] + out["switches"]
            i["oY"] = out["Y"] + out["contactor"] if self.cools else 0j
            i["oC"] = i["oR"] + i["oY"]
            i["Y"] = i["oY"] + v["Y"] / input_in if self.cools else 0j
            i["G"] = v["G"] / input_in if self.fan else 0j
            i["W"] = v["W"] / input_in if self.heats else 0j
            i["limit"] = i["valve"] = i["draft"] = 0j
            if self.indoor == "furnace":
                i["limit"] = v["limit"] / input_in
                if self.heats:
                    i["valve"] = v["limit"] / (self.coil("furnace.gas_valve") + RELAY)
                if self.draft:
                    i["draft"] = v["R"] / (input_in + RELAY)
            stat = i["Y"] + i["G"] + i["W"]
            total = v["R"] / self.own(indoor) + i["limit"] + i["valve"] + i["draft"] + stat + i["oR"]
            new = {"R": volts - inner * total}
            control = new["R"] - self.wire["thermostat-R"] * stat
            new["Y"] = control - (CONTROL + self.wire["thermostat-Y1"]) * i["Y"]
            new["G"] = control - (CONTROL + self.wire["thermostat-G"]) * i["G"]
            new["W"] = control - (CONTROL + self.wire.get("thermostat-W1", 0)) * i["W"]
            new["oR"] = new["R"] - self.wire["outdoor-R"] * i["oR"]
            new["oY"] = new["Y"] - self.wire["outdoor-Y"] * i["oY"]
            new["oC"] = self.wire["outdoor-C"] * i["oC"]
            new["limit"] = new["R"] - 2 * RELAY * (i["limit"] + i["valve"])
            v = {name: 0.5 * v[name] + 0.5 * new[name] for name in v}
        return v | {f"i_{name}": current for name, current in i.items()} | {"i_total": total}


CALLS = {"rest": (), "fan": ("G",), "cool": ("Y1", "G"), "heat": ("W1",)}


MADE = [
    (name, what)
    for name in SPLITS
    for what, calls in CALLS.items()
    if set(calls) <= set(system(name).control.terminals)
]


@pytest.mark.parametrize(("name", "what"), MADE)
def test_every_load_has_the_voltage_and_current_that_a_sweep_of_drops_gives(name: str, what: str) -> None:
    traced = Traced(name).call(*CALLS[what], run=3 * MIN)
    cools, heats = what == "cool", what == "heat"
    sweep = Sweep(name, cools=cools, heats=heats, fan="G" in CALLS[what], draft=heats)
    v = sweep.solve()
    electric = traced.plant._electric
    solution = electric._wiring.network.solve(electric._state)

    def close(measured: float, expected: complex) -> None:
        assert measured == pytest.approx(abs(expected), rel=2e-4, abs=2e-4)

    indoor = sweep.indoor
    close(solution.volts(f"{indoor}.R", f"{indoor}.C"), v["R"])
    close(solution.volts("condenser.R", "condenser.C"), v["oR"] - v["oC"])
    close(solution.amps(f"{indoor}.fuse"), v["i_total"])
    close(solution.amps("conductor outdoor-C"), v["i_oC"])
    close(solution.amps("conductor outdoor-R"), v["i_oR"])
    if cools:
        close(solution.volts("condenser.Y", "condenser.C"), v["oY"] - v["oC"])
        close(solution.amps("condenser.contactor"), (v["oY"] - v["oC"]) / (sweep.coil("condenser.contactor") + RELAY))
        close(solution.volts("furnace.Y" if indoor == "furnace" else "air_handler.Y", f"{indoor}.C"), v["Y"])
        close(solution.amps("conductor thermostat-Y1"), v["i_Y"])
    if "G" in CALLS[what]:
        close(solution.volts(f"{indoor}.G", f"{indoor}.C"), v["G"])
    if heats:
        close(solution.amps("furnace.gas_valve"), v["i_valve"])
        close(solution.volts("furnace.W", "furnace.C"), v["W"])
        close(solution.volts("furnace.pressure_switch.out", "furnace.C"), v["R"])


@pytest.mark.parametrize("name", SPLITS)
def test_volt_amperes_in_are_the_sum_over_the_loads(name: str) -> None:
    calls = {"Y1", "G"} & set(system(name).control.terminals) or {"W1"}
    traced = Traced(name).call(*calls, run=3 * MIN)
    electric = traced.plant._electric
    network = electric._wiring.network
    solution = network.solve(electric._state)
    sources = [element for element in network.elements if type(element).__name__ == "Source"]
    given = sum(
        solution.volts_phasor(source.a, source.b) * solution.amps_phasor(source.name).conjugate() for source in sources
    )
    taken = sum(
        solution.volts_phasor(element.a, element.b) * solution.amps_phasor(element.name).conjugate()
        for element in network.elements
        if element not in sources and (type(element).__name__ != "Wire" or element.ohms)
    )
    assert given == pytest.approx(taken, rel=1e-6)


def test_on_the_long_thin_cables_every_coil_still_has_enough() -> None:
    traced = Traced("split-gas-cool-long").call("Y1", "G", run=3 * MIN)
    assert traced.state["compressor by amps"] == "on"
    assert 18 < traced.plant.read("control_voltage") < 30


def falling(name: str, *calls: str, watch: str, probe: str, **settings: str) -> tuple[float, float]:
    """The source lowered by half a percent a second: the last volts with which a point stood, the first without."""
    traced = Traced(name, settings={key.replace("__", "."): value for key, value in settings.items()})
    traced.call(*calls, run=3 * MIN)
    level = traced.plant._electric.levels[traced.plant._blueprint.probes[probe]]
    source = f"{'furnace' if 'furnace' in system(name).equipment else 'air_handler'}.transformer"
    stood = fell = level.value
    for step in range(200):
        traced.plant._electric.scale(source, 1 - step / 200)
        traced.plant.advance(traced.plant.now)
        stood, fell = fell, level.value
        traced.wait(1000)
        if traced.state[watch] == "off":
            return stood, fell
    raise AssertionError(f"{watch} never dropped")


STURDY = {"condenser__board__works_down_to": "1 V", "condenser__board__input_off": "1 V"}
STURDY |= {"furnace__board__works_down_to": "1 V", "furnace__board__input_off": "1 V"}


@pytest.mark.parametrize("drop_out", ["6 V", "10 V", "14 V"])
def test_the_contactor_drops_at_its_own_threshold(drop_out: str) -> None:
    stood, fell = falling(
        "split-gas-cool", "Y1", "G", watch="compressor by amps", probe="condenser.contactor:coil",
        condenser__contactor__drop_out=drop_out, **STURDY,
    )  # fmt: skip
    assert stood >= float(drop_out[:-2]) > fell


@pytest.mark.parametrize("drop_out", ["5 V", "8 V", "11 V"])
def test_the_gas_valve_drops_at_its_own_threshold(drop_out: str) -> None:
    stood, fell = falling(
        "split-gas-cool", "W1", watch="flame by flame_current", probe="furnace.gas_valve:coil",
        furnace__gas_valve__drop_out=drop_out, **STURDY,
    )  # fmt: skip
    assert stood >= float(drop_out[:-2]) > fell


@pytest.mark.parametrize("works_down_to", ["15 V", "17 V"])
def test_a_board_stops_at_the_voltage_it_works_down_to(works_down_to: str) -> None:
    for name, calls, watch, probe in (
        ("split-gas-cool", ("G",), "blower by amps", "furnace.board:supply"),
        ("cooling-only", ("G",), "blower by amps", "air_handler.board:supply"),
        ("split-gas-cool", ("Y1",), "compressor by amps", "condenser.board:supply"),
    ):
        key = probe.split(":")[0].replace(".", "__") + "__works_down_to"
        stood, fell = falling(name, *calls, watch=watch, probe=probe, **{key: works_down_to})
        assert stood >= float(works_down_to[:-2]) > fell


def test_nothing_pulls_in_below_its_pick_up() -> None:
    weak = Traced(settings={"furnace.transformer.supply": "60 %", **{
        key.replace("__", "."): value for key, value in STURDY.items()
    }})  # fmt: skip
    for board in ("furnace", "condenser"):
        assert not weak.plant._parts[f"{board}.board"].powered.value  # 16 V: below what a board starts from
    weak.call("Y1", "G", run=MIN)
    assert weak.state["compressor by amps"] == "off"
