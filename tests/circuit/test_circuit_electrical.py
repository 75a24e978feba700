"""Electrical troubles of a 24 V control circuit, each against a formula worked by hand."""

import math

import pytest

from stagecall.circuit import Coil, Contact, Network, Source, Wire, conductor_ohms, load_ohms, opens_after, transformer

FOOT = 0.3048
PICK_UP = 18.0
SUPPLY_VOLTS, SUPPLY_OHMS = 28.0, 2.1
"""Of a 40 VA transformer."""


def solved(elements, on=(), scales=None):
    network = Network(elements)
    return network.solve(network.state(on, scales))


def bisected(low, high, passes):
    """Where *passes* turns from true to false."""
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (middle, high) if passes(middle) else (low, middle)
    return low


# ---- a run too long and too thin

CONTACTOR = Coil("contactor", "unit.Y", "unit.C", sealed=load_ohms(8, 0.4), unsealed=load_ohms(33, 0.3))


def called_over(feet, gauge=22):
    ohms = conductor_ohms(gauge, feet * FOOT)
    return [
        transformer("supply", "R", "C", 40),
        Contact("thermostat", "R", "Y"),
        Wire("wire Y", "Y", "unit.Y", ohms),
        Wire("wire C", "unit.C", "C", ohms),
        CONTACTOR,
    ]


def coil_volts(feet, *, gauge=22, sealed=False):
    on = ["thermostat", "contactor"] if sealed else ["thermostat"]
    return solved(called_over(feet, gauge), on).volts("unit.Y", "unit.C")


def test_a_22_gauge_run_too_long_for_pick_up_has_the_length_that_the_formula_gives():
    magnitude = 24**2 / 33
    resistance, reactance = 0.3 * magnitude, math.sqrt(1 - 0.3**2) * magnitude
    whole = SUPPLY_VOLTS / PICK_UP * magnitude
    loop = math.sqrt(whole**2 - reactance**2) - resistance - SUPPLY_OHMS - 0.01
    by_hand = loop / (2 * 16.14 / 1000)

    feet = bisected(10, 2000, lambda feet: coil_volts(feet) >= PICK_UP)

    assert feet == pytest.approx(by_hand, rel=1e-5)
    assert 300 < feet < 600


def test_over_the_run_that_is_too_long_a_sealed_contactor_would_hold_and_thicker_wire_would_pull_it_in():
    feet = 1.2 * bisected(10, 2000, lambda feet: coil_volts(feet) >= PICK_UP)

    assert coil_volts(feet) < PICK_UP
    assert coil_volts(feet, sealed=True) > PICK_UP
    assert coil_volts(feet, gauge=18) > PICK_UP


def test_a_contactor_that_does_not_seal_goes_on_drawing_its_inrush():
    stuck, sealed = (solved(called_over(500), on) for on in (["thermostat"], ["thermostat", "contactor"]))

    assert stuck.amps("contactor") > 2.5 * sealed.amps("contactor")


@pytest.mark.parametrize(("gauge", "volts_lost"), [(18, 1.8), (22, 4.5)])
def test_a_hundred_foot_run_loses_at_inrush_what_the_trade_reckons(gauge, volts_lost):
    """33 VA at 24 V through the loop's ohms, as is reckoned in the field: amps times ohms, angles left out."""
    on = ["thermostat"]
    elements = [*called_over(100, gauge)[1:], Source("stiff supply", "R", "C", 24, 0.001)]
    solution = solved(elements, on)
    lost = solution.volts("Y", "unit.Y") + solution.volts("unit.C", "C")

    assert lost == pytest.approx(volts_lost, rel=0.15)


# ---- a joint that reads 24 V until it is loaded

JOINT = 200.0
EXAMPLE_COIL = Coil("coil", "beyond.1", "C", sealed=48, unsealed=30)
"""The worked example of the trade: 48 ohm sealed, about 30 unsealed."""


def bad_joint(meter_ohms):
    return [
        transformer("supply", "R", "C", 40),
        Wire("joint", "R", "beyond", JOINT),
        Contact("lead", "beyond", "beyond.1"),
        EXAMPLE_COIL,
        Wire("meter", "beyond", "C", meter_ohms),
    ]


@pytest.mark.parametrize("meter_ohms", [10e6, 10e3])
def test_a_200_ohm_joint_reads_24_volts_with_the_coil_lifted(meter_ohms):
    assert solved(bad_joint(meter_ohms)).volts("beyond", "C") > 24


def test_a_200_ohm_joint_collapses_to_about_3_volts_under_the_unsealed_coil():
    solution = solved(bad_joint(10e6), ["lead"])
    by_hand = SUPPLY_VOLTS * 30 / (SUPPLY_OHMS + JOINT + 0.01 + 30)

    assert solution.volts("beyond", "C") == pytest.approx(by_hand, rel=1e-3)
    assert 3 < solution.volts("beyond", "C") < 4
    assert solution.volts("R", "C") > 27


# ---- a lost common: two loads in series across the source


def through_a_lost_common(first, second):
    """Two loads meet at ``shared``, whose wire to C is a contact; the second's idle end is held to C by its board."""
    return [
        transformer("supply", "R", "C", 40),
        Contact("call", "R", "Y"),
        Coil("first", "Y", "shared", *first),
        Coil("second", "idle", "shared", *second),
        Contact("board holds idle output down", "idle", "C"),
        Contact("wire C", "shared", "C"),
    ]


TWO_CONTACTORS = through_a_lost_common(*[(load_ohms(8, 0.4), load_ohms(33, 0.3))] * 2)
HELD = ["call", "board holds idle output down"]


def test_with_its_common_in_place_the_called_load_has_the_source_and_the_other_nothing():
    solution = solved(TWO_CONTACTORS, [*HELD, "first", "wire C"])

    assert solution.volts("Y", "shared") > 24
    assert solution.volts("idle", "shared") < 0.1


@pytest.mark.parametrize(("sealed", "va", "power_factor"), [(["first", "second"], 8, 0.4), ([], 33, 0.3)])
def test_two_like_loads_in_series_through_a_lost_common_share_the_source_and_both_drop_out(sealed, va, power_factor):
    solution = solved(TWO_CONTACTORS, [*HELD, *sealed])
    magnitude = 24**2 / va
    resistance, reactance = power_factor * magnitude, math.sqrt(1 - power_factor**2) * magnitude
    whole = math.hypot(2 * resistance + SUPPLY_OHMS + 0.02, 2 * reactance)
    by_hand = SUPPLY_VOLTS * magnitude / whole
    drop_out = 0.6 * 24

    assert solution.volts("Y", "shared") == pytest.approx(by_hand, rel=1e-5)
    assert solution.volts("idle", "shared") == pytest.approx(by_hand, rel=1e-5)
    assert by_hand < drop_out
    assert solution.volts("R", "C") > 24


def test_of_two_unlike_loads_in_series_the_small_one_takes_the_volts_and_pulls_in_uncalled():
    """A contactor of 8 VA holds; the relay of 2 VA gets nearly all; both resistive for the formula's sake."""
    contactor, relay = 24**2 / 8, 24**2 / 2
    solution = solved(through_a_lost_common((contactor, contactor), (relay, relay)), [*HELD, "first"])
    whole = SUPPLY_OHMS + 0.02 + contactor + relay

    assert solution.volts("Y", "shared") == pytest.approx(SUPPLY_VOLTS * contactor / whole, rel=1e-5)
    assert solution.volts("idle", "shared") == pytest.approx(SUPPLY_VOLTS * relay / whole, rel=1e-5)
    assert solution.volts("Y", "shared") < 6
    assert solution.volts("idle", "shared") > PICK_UP


# ---- an overload that no fuse sees


@pytest.mark.parametrize("valves", [5, 6, 7])
def test_an_overloaded_40_va_transformer_is_not_protected_by_a_3_ampere_fuse(valves):
    loads = [Wire(f"valve {number}", "fused", "C", 24**2 / 10) for number in range(valves)]
    solution = solved([transformer("supply", "R", "C", 40), Contact("fuse", "R", "fused", 0.03), *loads], ["fuse"])
    by_hand = SUPPLY_VOLTS / (SUPPLY_OHMS + 0.03 + 24**2 / 10 / valves)
    amps = solution.amps("fuse")

    assert amps == pytest.approx(by_hand, rel=1e-5)
    assert 1.7 < amps < 3
    assert solution.va("supply") > 1.2 * 40
    assert {opens_after(amps, 3, grade) for grade in ("low", "typical", "high")} == {None}
    assert solution.volts("fused", "C") < 24


def test_a_heavier_overload_opens_the_fuse_only_after_hours():
    amps = 1.12 * 3

    assert opens_after(amps, 3) > 3_600_000
    assert opens_after(amps, 3, "high") is None


# ---- a dead short


def shorted(feet=0.0, fuse_ohms=0.03, short_ohms=0.05):
    ohms = conductor_ohms(22, feet * FOOT)
    return [
        transformer("supply", "R", "C", 40),
        Contact("fuse", "R", "fused", fuse_ohms),
        Wire("wire R", "fused", "far.R", ohms),
        Wire("wire C", "far.C", "C", ohms),
        Wire("short", "far.R", "far.C", short_ohms),
    ]


@pytest.mark.parametrize("grade", ["low", "typical", "high"])
def test_a_dead_short_opens_the_3_ampere_fuse_in_the_time_of_its_curve(grade):
    amps = solved(shorted(), ["fuse"]).amps("fuse")
    by_hand = SUPPLY_VOLTS / (SUPPLY_OHMS + 0.03 + 0.05)
    at_350, at_600 = {
        "low": (0.04, 0.02),
        "typical": (math.sqrt(0.04 * 0.5), math.sqrt(0.02 * 0.1)),
        "high": (0.5, 0.1),
    }[grade]
    slope = math.log10(at_600 / at_350) / math.log10(6 / 3.5)
    seconds = at_350 * (amps / 3 / 3.5) ** slope

    assert amps == pytest.approx(by_hand, rel=1e-5)
    assert 10 < amps < 13.5
    assert opens_after(amps, 3, grade) == pytest.approx(1000 * seconds, abs=1)
    assert opens_after(amps, 3, grade) <= 500


def test_a_5_ampere_fuse_takes_longer_over_the_same_short():
    amps = solved(shorted(), ["fuse"]).amps("fuse")

    assert opens_after(amps, 5) > 3 * opens_after(amps, 3)
    assert opens_after(amps, 5, "high") > 1000


def test_a_short_at_the_end_of_a_long_thin_run_lets_the_fuse_live_for_seconds():
    amps = solved(shorted(100), ["fuse"]).amps("fuse")

    assert amps == pytest.approx(SUPPLY_VOLTS / (SUPPLY_OHMS + 0.08 + 2 * 1.614), rel=1e-4)
    assert opens_after(amps, 3) > 1000
    assert opens_after(amps, 5) is None


def test_behind_an_open_fuse_everything_is_dead_and_the_transformer_recovers():
    solution = solved(shorted())

    assert solution.volts("fused", "C") == pytest.approx(0, abs=1e-5)
    assert solution.amps("supply") == pytest.approx(0, abs=1e-6)
    assert solution.volts("R", "C") == pytest.approx(28, rel=1e-6)


# ---- two transformers


def two_transformers(phase_degrees):
    return [
        transformer("indoor", "Rh", "C", 40),
        transformer("outdoor", "Rc", "C2", 75, phase_degrees=phase_degrees),
        Contact("commons joined", "C", "C2"),
        Contact("jumper", "Rh", "Rc"),
    ]


INDOOR, OUTDOOR = 28.0, 28.3
BOTH_OHMS = 2.1 + 1.2 + 0.01 + 0.01


def test_two_transformers_in_phase_read_next_to_nothing_between_their_hots():
    solution = solved(two_transformers(0), ["commons joined"])

    assert solution.volts("Rh", "Rc") == pytest.approx(OUTDOOR - INDOOR, abs=1e-4)
    assert solution.volts("Rh", "Rc") < 1


def test_two_transformers_out_of_phase_read_the_sum_between_their_hots():
    solution = solved(two_transformers(180), ["commons joined"])

    assert solution.volts("Rh", "Rc") == pytest.approx(INDOOR + OUTDOOR, abs=1e-4)
    assert solution.volts("Rc", "C") == pytest.approx(28.3, rel=1e-4)


@pytest.mark.parametrize(("phase_degrees", "driving"), [(0, OUTDOOR - INDOOR), (180, OUTDOOR + INDOOR)])
def test_a_jumper_between_two_transformers_carries_their_difference(phase_degrees, driving):
    solution = solved(two_transformers(phase_degrees), ["commons joined", "jumper"])

    assert solution.amps("jumper") == pytest.approx(driving / BOTH_OHMS, rel=1e-4)
    assert solution.amps("commons joined") == pytest.approx(solution.amps("jumper"), rel=1e-4)


def test_a_jumper_out_of_phase_is_as_good_as_a_short_and_opens_a_3_ampere_fuse():
    amps = solved(two_transformers(180), ["commons joined", "jumper"]).amps("jumper")

    assert opens_after(amps, 3, "high") < 200


def test_a_jumper_without_joined_commons_carries_nothing():
    solution = solved(two_transformers(180), ["jumper"])

    assert solution.amps("jumper") == pytest.approx(0, abs=1e-6)
    assert solution.volts("Rh", "C") == pytest.approx(INDOOR, rel=1e-5)
    assert solution.volts("Rc", "C2") == pytest.approx(OUTDOOR, rel=1e-5)


def test_a_jumper_feeds_the_secondary_of_a_transformer_that_is_switched_off():
    """So that its primary stands at line volts with its own disconnect open."""
    solution = solved(two_transformers(0), ["commons joined", "jumper"], {"outdoor": 0})
    exciting = 24**2 / (0.1 * 75)

    assert solution.volts("Rc", "C2") == pytest.approx(INDOOR * exciting / math.hypot(2.12, exciting), rel=1e-4)
    assert solution.amps("indoor") == pytest.approx(INDOOR / math.hypot(2.12, exciting), rel=1e-4)


# ---- leaks


def stolen(load_ohms, thief_ohms):
    return solved(
        [
            transformer("supply", "R", "C", 40),
            Wire("power stealing", "R", "Y", thief_ohms),
            Wire("load", "Y", "C", load_ohms),
        ]
    )


@pytest.mark.parametrize("milliamps", [10, 20, 50])
def test_a_thermostat_that_steals_power_leaves_a_contactor_far_below_drop_out(milliamps):
    thief, coil = 24 / (milliamps / 1000), 24**2 / 8
    solution = stolen(coil, thief)

    assert solution.volts("Y", "C") == pytest.approx(SUPPLY_VOLTS * coil / (SUPPLY_OHMS + thief + coil), rel=1e-5)
    assert solution.volts("Y", "C") < 6


def test_stolen_power_reads_as_a_call_on_an_input_that_draws_too_little():
    assert stolen(10e3, 24 / 0.01).volts("Y", "C") > PICK_UP


@pytest.mark.parametrize(("load", "low", "high"), [(10e6, 27, 28), (100e3, 13, 15), (6e3, 1, 2), (24**2 / 8, 0, 0.05)])
def test_a_solid_state_output_reads_hot_when_off_until_something_loads_it(load, low, high):
    assert low < stolen(load, 100e3).volts("Y", "C") < high
