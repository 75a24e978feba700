"""What motors draw follows what they drive, and a clamp and a voltmeter tell what is left of a run capacitor."""

from __future__ import annotations

import pytest
from traced import MIN, Traced, fault

from stagecall.units import parse_quantity

SETTLED = 15 * MIN


def cooling(*, outdoors: str = "95 °F", faults: tuple[object, ...] = (), name: str = "split-gas-cool") -> Traced:
    unit = Traced(name, faults=faults)  # type: ignore[arg-type]
    weather = {"outdoor_air": outdoors, "room_air": "80 °F"}
    unit.plant.surroundings({name: parse_quantity(text).to("temperature") for name, text in weather.items()})
    return unit.call("Y1", "G", run=SETTLED)


def test_at_its_rated_weather_a_compressor_draws_its_rated_amps() -> None:
    assert cooling().plant.read("compressor_amps") == pytest.approx(15, rel=0.01)


def test_amps_rise_with_the_heat_outdoors() -> None:
    amps = [cooling(outdoors=f"{degrees} °F").plant.read("compressor_amps") for degrees in (75, 85, 95, 105, 115)]

    assert amps == sorted(amps)
    assert amps[0] > 0.75 * amps[2]
    assert amps[4] < 1.25 * amps[2]


def test_amps_fall_with_the_charge() -> None:
    amps = [
        cooling(faults=(fault("charge-low", f"{share} %"),)).plant.read("compressor_amps") for share in (90, 75, 60)
    ]

    assert amps == sorted(amps, reverse=True)
    assert amps[0] < 15


def test_a_two_step_compressor_draws_less_on_its_low_step() -> None:
    unit = cooling(name="two-stage-gas-cool")
    low = unit.plant.read("compressor_amps")
    high = unit.call("Y1", "Y2", "G", run=SETTLED).plant.read("compressor_amps")

    assert 0.6 * high < low < 0.9 * high


def test_a_fan_that_starts_after_the_compressor_does_not_trip_its_overload() -> None:
    unit = cooling()

    assert unit.call("Y1", "G", run=60 * MIN).times("compressor by amps", "off") == []


@pytest.mark.parametrize("share", ["93 %", "80 %", "70 %"])
def test_the_capacitor_reads_what_is_left_of_its_mark(share: str) -> None:
    unit = cooling(faults=(fault("run-capacitor-weak", share),))
    left = parse_quantity(share).to("fraction")

    assert unit.plant.read("compressor_capacitor") == pytest.approx(45e-6 * left)
    assert unit.plant.read("fan_capacitor") == pytest.approx(5e-6)


def test_nothing_is_read_of_a_capacitor_while_its_motor_draws_nothing() -> None:
    assert Traced().wait(MIN).plant.read("compressor_capacitor") == 0
