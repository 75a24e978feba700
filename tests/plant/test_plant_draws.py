from __future__ import annotations

import msgspec
import pytest
from traced import FLAME, LIBRARY, MIN, SPLITS, SYSTEMS, S, Traced, plan, profile, system

from stagecall.plant import blueprint
from stagecall.plant.parameters import Between, OneOf
from stagecall.points import CALLS, point


def healthy(name: str, seed: int) -> list[tuple[int, str, str]]:
    traced = Traced(name, seed=seed, draw=True).call("Y1", "G", run=4 * MIN).call(run=6 * MIN)
    if "W1" in system(name).control.terminals:
        traced.call("W1", run=4 * MIN).call(run=5 * MIN)
    return traced.trace


def test_the_same_seed_gives_the_same_machine_and_the_same_run() -> None:
    assert healthy("split-gas-cool", 7) == healthy("split-gas-cool", 7)


def test_another_seed_gives_another_machine() -> None:
    assert healthy("split-gas-cool", 7) != healthy("split-gas-cool", 8)


def test_typical_machines_are_all_alike() -> None:
    assert Traced(seed=1).plant._parts["furnace.board"].p == Traced(seed=2).plant._parts["furnace.board"].p


@pytest.mark.parametrize("name", SYSTEMS)
def test_typical_values_lie_in_the_range_seen(name: str) -> None:
    for fitting in plan(name).fittings.values():
        for parameter, span in fitting.spans.items():
            typical = fitting.typical[parameter]
            match span:
                case Between(low=low, high=high):
                    assert low <= typical <= high, (fitting.name, parameter)
                case OneOf(values=values):
                    assert typical in values, (fitting.name, parameter)


@pytest.mark.parametrize("name", SYSTEMS)
def test_drawn_values_lie_in_the_range_seen_and_fill_it(name: str) -> None:
    drawn = [
        {fitting.name: fitting.values(seed=seed, drawn=True) for fitting in plan(name).fittings.values()}
        for seed in range(60)
    ]
    for fitting in plan(name).fittings.values():
        for parameter, span in fitting.spans.items():
            values = [machine[fitting.name][parameter] for machine in drawn]
            if isinstance(span, OneOf):
                assert set(values) == set(span.values), (fitting.name, parameter)
            else:
                assert span.low <= min(values) <= max(values) <= span.high
                assert max(values) - min(values) >= 0.7 * (span.high - span.low), (fitting.name, parameter)


def test_a_new_part_does_not_reshuffle_the_draws() -> None:
    before = {name: fitting.values(seed=3, drawn=True) for name, fitting in plan("split-gas-cool").fittings.items()}
    profiles = LIBRARY.profiles(system("split-gas-cool"))
    furnace = profile("gas-furnace-one-stage")
    parts = {"spare_relay": furnace.parts["blower_relay"], **furnace.parts}
    wiring = (*furnace.wiring, ("board.blower", "spare_relay.drive"))
    profiles["gas-furnace-one-stage"] = msgspec.structs.replace(furnace, parts=parts, wiring=wiring)
    after = blueprint(system("split-gas-cool"), profiles).fittings
    assert "furnace.spare_relay" in after
    for name, values in before.items():
        assert after[name].values(seed=3, drawn=True) == values


def test_the_makers_figure_takes_the_place_of_typical_and_range() -> None:
    board = plan("split-gas-cool-long").fittings["condenser.board"]
    assert board.typical["compressor_minimum_off"] == 240_000
    assert board.spans["compressor_minimum_off"] == Between(216_000, 264_000)
    exact = plan("split-gas-cool-long").fittings["furnace.board"]
    assert exact.spans["flame_proving_time"] == OneOf((5000,))


def test_a_setting_of_the_system_is_what_every_draw_has() -> None:
    board = plan("split-gas-cool-long").fittings["furnace.board"]
    assert {board.values(seed=seed, drawn=True)["fan_during_ignition"] for seed in range(20)} == {"drops"}


@pytest.mark.parametrize("name", SPLITS)
def test_every_drawn_machine_cools_and_heats(name: str) -> None:
    for seed in range(25):
        traced = Traced(name, seed=seed, draw=True).call("Y1", "G", run=10 * MIN)
        assert len(traced.times("compressor by amps", "on")) == 1, seed
        assert not traced.times("compressor by amps", "off"), seed
        traced.call(run=8 * MIN)
        assert traced.state["blower by amps"] == "off", seed
        if "W1" in system(name).control.terminals:
            traced.call("W1", run=10 * MIN)
            assert len(traced.times(FLAME, "on")) == 1, seed
            assert traced.state[FLAME] == "on", seed
            assert traced.state["limit by contact"] == "closed"
            traced.call(run=4 * MIN)
            assert traced.state["blower by amps"] == traced.state[FLAME] == "off", seed


@pytest.mark.parametrize("name", SYSTEMS)
def test_every_profile_says_where_its_figures_come_from(name: str) -> None:
    for installed in system(name).equipment.values():
        for part in profile(installed.profile).parts.values():
            assert all(parameter.source for parameter in part.parameters.values())


@pytest.mark.parametrize("name", SPLITS)
def test_each_call_energises_what_the_profiles_say(name: str) -> None:
    for call in sorted(set(system(name).control.terminals) & set(CALLS)):
        expected = {
            energised
            for installed in system(name).equipment.values()
            for energised in profile(installed.profile).energises.get(call, ())
        }
        traced = Traced(name).call(call, run=2 * MIN + 30 * S)
        loads = {key.partition(" ")[0] for key, state in traced.state.items() if state == "on"}
        loads |= {key.partition(" ")[0] for _, key, state in traced.trace if state == "on"}
        assert {load for load in loads if not load.startswith("wire_")} == expected
        assert all(point(load) for load in expected)
