"""A three-phase condensing unit with a phase monitor, a fan control for cold weather and a heater."""

from __future__ import annotations

import pytest
from traced import COMPRESSOR, CONTACTOR, MIN, OUTDOOR_FAN, Traced

SYSTEM = "shop-three-phase"


def cooling(outdoor: float, run: int = 15 * MIN, **settings: str) -> Traced:
    made = Traced(SYSTEM, settings={f"condenser.{key.replace('__', '.')}": value for key, value in settings.items()})
    made.plant.surroundings({"outdoor_air": outdoor})
    return made.wait(10 * MIN).call("Y1", "G", run=run)


def test_with_the_phases_in_order_the_compressor_runs() -> None:
    assert cooling(33.0).state[COMPRESSOR] == "on"


@pytest.mark.parametrize("wrong", [{"phase_monitor__rotation": "reversed"}, {"phase_monitor__phases": "one_missing"}])
def test_phases_changed_over_or_missing_keep_the_contactor_out_whatever_is_called(wrong: dict[str, str]) -> None:
    run = cooling(33.0, **wrong)

    assert run.state["wire_Y1 by call_volts"] == "on"
    assert not run.times(CONTACTOR, "on")


def test_on_a_hot_day_the_fan_starts_with_the_compressor_and_runs_on() -> None:
    run = cooling(33.0)

    assert run.at(OUTDOOR_FAN, "on") - run.at(COMPRESSOR, "on") < 1000
    assert not run.times(OUTDOOR_FAN, "off")


def test_in_cool_weather_the_fan_starts_late_and_comes_and_goes() -> None:
    run = cooling(-5.0, run=60 * MIN)

    assert run.at(OUTDOOR_FAN, "on") - run.at(COMPRESSOR, "on") > 5000
    assert len(run.times(OUTDOOR_FAN, "off")) >= 2
    assert not run.times("high_pressure by contact", "open")


@pytest.mark.parametrize(("contact", "ever"), [("stuck_closed", True), ("stuck_open", False)])
def test_a_stuck_fan_control_lets_the_fan_run_always_or_never(contact: str, ever: bool) -> None:
    run = cooling(33.0, run=5 * MIN, fan_cycling__contact=contact)

    assert bool(run.times(OUTDOOR_FAN, "on")) == ever
    assert bool(run.times("high_pressure by contact", "open")) != ever


@pytest.mark.parametrize(("heats", "off"), [("at_rest", True), ("always", False)])
def test_the_heater_rests_with_the_compressor_running_or_never(heats: str, off: bool) -> None:
    run = cooling(33.0, compressor_heater__heats=heats)

    assert bool(run.times("crankcase_heater by amps", "off")) == off


def test_a_heater_that_has_burnt_out_draws_nothing() -> None:
    run = cooling(33.0, compressor_heater__element="open")

    assert run.state["crankcase_heater by amps"] == "off"
