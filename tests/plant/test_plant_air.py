from __future__ import annotations

import pytest
import simpy
from hypothesis import given, settings
from hypothesis import strategies as st
from traced import MIN, S, Traced

from stagecall.plant.air import Air, House, density, first_change_of_sign

FLOW = 0.566  # m³/s, 1200 CFM


def stepped(air: Air, seconds: float, step: float = 0.05) -> tuple[float, list[float]]:
    """Room and excesses the slow obvious way: small steps of the three balances."""
    room, excesses = air.room, [store.excess for store in air.stores]
    for _ in range(round(seconds / step)):
        given_up = 0.0
        for index, store in enumerate(air.stores):
            carried = store.effectiveness * air.stream(air.flow)
            excesses[index] += step * (store.heat - (carried or store.still) * excesses[index]) / store.capacity
            given_up += carried * excesses[index]
        room += step * (air.house.heat_loss * (air.outdoor - room) + given_up) / air.house.heat_capacity
    return room, excesses


@given(
    heat=st.floats(-9000, 20_000), flow=st.sampled_from([0.0, 0.2, FLOW]), room=st.floats(5, 30),
    outdoor=st.floats(-20, 45), excess=st.floats(-20, 120), seconds=st.integers(1, 300),
)  # fmt: skip
@settings(max_examples=25, deadline=None)
def test_the_closed_form_is_what_small_steps_come_to(
    *, heat: float, flow: float, room: float, outdoor: float, excess: float, seconds: int
) -> None:
    env = simpy.Environment()
    air = Air(env, House(), room, outdoor)
    exchanger, coil = air.store(90_000, 0.35, 15.0, FLOW), air.store(100_000, 0.7, 240.0, FLOW)
    exchanger.excess, exchanger.heat, coil.heat = excess, heat, -heat / 3
    air.set_flow(flow)
    expected_room, expected = stepped(air, seconds)
    env.run(until=seconds * 1000)
    air.settle()
    assert air.room == pytest.approx(expected_room, abs=0.02)
    assert [exchanger.excess, coil.excess] == pytest.approx(expected, abs=0.3)


def test_heat_into_the_air_is_capacity_less_what_is_stored_and_lost() -> None:
    furnace = Traced(settings={"house.heat_loss": "0.001 W/K"})
    air = furnace.plant._air
    before = air.room
    furnace.call("W1", run=60 * MIN).call(run=30 * MIN)
    fired = furnace.at("flame by flame_current", "off") - furnace.at("flame by flame_current", "on")
    heat = 70_000 * 1055.05585262 / 3600 * 0.8 * fired / 1000
    gained = (air.room - before) * air.house.heat_capacity
    assert gained < heat
    assert gained == pytest.approx(heat, rel=0.02)  # what the exchanger lost to still air is the difference


def test_in_a_steady_run_the_stream_carries_what_the_burner_gives() -> None:
    furnace = Traced().call("W1", run=30 * MIN)
    assert furnace.plant._air.delivered() == pytest.approx(70_000 * 1055.05585262 / 3600 * 0.8, rel=1e-3)


def test_the_rise_is_input_by_efficiency_over_airflow() -> None:
    furnace = Traced().call("W1", run=30 * MIN)
    rise = (furnace.plant.read("supply_air") - furnace.plant.read("return_air")) * 1.8
    assert rise == pytest.approx(56_000 / (1.08 * 1200), rel=0.01)
    assert furnace.plant.read("air_split") * 1.8 == pytest.approx(rise)


def test_the_split_of_cooling_is_the_sensible_capacity_over_airflow() -> None:
    unit = Traced("cooling-only")
    unit.plant.surroundings({"outdoor_air": 35.0})
    unit.call("Y1", "G", run=15 * MIN)
    split = unit.plant.read("air_split") * 1.8
    assert split == pytest.approx(-36_000 * 0.75 / (1.08 * 1200), rel=0.01)


def test_less_air_gives_a_greater_split() -> None:
    splits = []
    for passage in ("100 %", "80 %", "60 %"):
        unit = Traced("cooling-only", settings={"air_handler.blower.passage": passage}).call("Y1", "G", run=15 * MIN)
        splits.append(-unit.plant.read("air_split"))
    assert splits == sorted(splits)
    assert splits[0] < splits[-1]


def test_thin_air_at_altitude_carries_less() -> None:
    assert density(0, 21) == pytest.approx(1.2, rel=0.01)
    assert density(1524, 21) / density(0, 21) == pytest.approx(0.83, abs=0.01)
    rises = []
    for altitude in ("0 ft", "5000 ft"):
        furnace = Traced(settings={"house.altitude": altitude}).call("W1", run=20 * MIN)
        rises.append(furnace.plant.read("air_split"))
    assert rises[1] / rises[0] == pytest.approx(1 / 0.83, rel=0.01)


def test_the_room_warms_while_heated_and_cools_towards_outdoors_after() -> None:
    furnace = Traced()
    furnace.plant.surroundings({"outdoor_air": -10.0, "room_air": 18.0})
    furnace.call("W1", run=30 * MIN)
    warm = furnace.plant.read("room_air")
    furnace.call(run=120 * MIN)
    assert warm > 19
    assert furnace.plant.read("room_air") < warm
    assert furnace.plant.read("outdoor_air") == -10.0


@pytest.mark.parametrize(("root", "ms"), [(0.5, 500), (1.0, 1000), (59.9994, 60_000), (3600.0, 3_600_000)])
def test_a_crossing_is_found_to_the_millisecond_and_never_early(root: float, ms: int) -> None:
    found = first_change_of_sign(lambda seconds: seconds - root, 86_400)
    assert found is not None
    assert ms <= found <= ms + 1


def test_what_never_crosses_is_not_found() -> None:
    assert first_change_of_sign(lambda seconds: 1 + seconds, 86_400) is None


def test_the_limit_opens_at_the_moment_the_exchangers_air_reaches_its_setting() -> None:
    furnace = Traced(settings={"furnace.blower.motor": "dead"})
    furnace.call("W1", run=10 * MIN)
    opened = furnace.at("limit by contact", "open")
    again = Traced(settings={"furnace.blower.motor": "dead"})
    again.call("W1", run=opened)
    air = again.plant._air
    air.settle()
    store = air.stores[0]
    sensed = air.room + 0.4 * store.excess
    assert sensed == pytest.approx((190 - 32) / 1.8, abs=0.01)
    assert again.wait(0).state["limit by contact"] == "open"


def test_the_supply_follows_with_the_coils_own_lag() -> None:
    unit = Traced("cooling-only").call("Y1", "G", run=30 * S)
    early = unit.plant.read("air_split")
    unit.wait(15 * MIN)
    assert unit.plant.read("air_split") < early < -1.0
