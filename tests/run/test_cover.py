"""What is computed from results, worked out by hand."""

from __future__ import annotations

import pytest

from stagecall.run.catalogue import Entry
from stagecall.run.cover import Cover, cover, outcome
from stagecall.run.results import Healthy, Tried
from stagecall.run.trace import Envelope
from stagecall.run.trial import Failure

COIL = Entry("coil-open@unit.coil", "coil-open", "contactor")
SLOW = Entry("slow@unit.board", "slow", "board")
DUMB = Entry("dumb@unit.board", "dumb", "board")
WIRE_Y = Entry("open@Y", "open", "conductor")
WIRE_G = Entry("open@G", "open", "conductor")


def tried(
    entry: Entry, sequence: str, *, left: str = "", fails: str = "", about: str = "", kit: str = "full", of: str = ""
) -> Tried:
    """A result: the points that left, what failed (of the sequence, or of the monitor *of*) and its points."""
    return Tried(
        system="house",
        kit=kit,
        sequence=sequence,
        fault=entry.text,
        left=tuple(left.split()),
        failures=tuple(Failure(of or sequence, name, tuple((about or left).split())) for name in fails.split()),
    )


def healthy(sequence: str = "cool", kit: str = "full", **more: object) -> Healthy:
    return Healthy(system="house", kit=kit, sequence=sequence, seeds=(0, 1, 2), envelope=Envelope(), **more)  # type: ignore[arg-type]


def found(*results: Tried, faults: tuple[Entry, ...] = (COIL, SLOW, DUMB, WIRE_Y, WIRE_G)) -> Cover:
    return cover([healthy("cool"), healthy("fan")], results, {"house": faults})


@pytest.mark.parametrize(
    ("left", "fails", "about", "expected"),
    [
        ("", "", "", "no response"),
        ("", "one", "blower", "false alarm"),
        ("blower", "", "", "missed"),
        ("blower", "one", "blower", "caught"),
        ("blower", "one", "inducer blower", "caught"),
        ("blower", "one two", "inducer", "caught as something else"),
    ],
)
def test_each_run_of_a_fault_has_one_of_five_outcomes(left: str, fails: str, about: str, expected: str) -> None:
    assert outcome(tried(COIL, "cool", left=left, fails=fails, about=about)) == expected


def test_a_fail_after_another_course_of_the_steps_is_caught_whatever_it_is_about() -> None:
    one = Tried(
        system="house",
        kit="full",
        sequence="cool",
        fault="x",
        left=("",),
        failures=(Failure("cool", "1", ("blower",)),),
    )

    assert outcome(one) == "caught"


def test_rates_count_detectable_faults_and_a_fail_alone() -> None:
    figures = found(
        tried(COIL, "cool", left="compressor", fails="a"),
        tried(COIL, "fan"),
        tried(SLOW, "cool", left="compressor"),
        tried(DUMB, "cool"),
        tried(WIRE_Y, "cool", left="wire_Y1", fails="a"),
        tried(WIRE_G, "cool", left="wire_G", fails="b"),
    ).kits["full"]

    assert (figures.faults, figures.detectable, figures.detected) == (5, 4, 3)
    assert figures.detection_rate == 3 / 4
    assert figures.part_detection_rate == 1 / 2
    assert figures.unweighted_detection_rate == pytest.approx(2 / 3)
    assert (figures.by_part["conductor"].detected, figures.by_part["conductor"].detectable) == (2, 2)
    assert figures.by_part["board"].share == 0
    assert "dumb" not in figures.by_fault


def test_a_fail_where_nothing_left_the_healthy_range_detects_nothing() -> None:
    figures = found(tried(COIL, "cool", fails="a", about="blower"), tried(COIL, "fan", left="compressor")).kits["full"]

    assert (figures.detectable, figures.detected) == (1, 0)
    assert figures.outcomes["false alarm"] == 1


def test_what_is_not_caught_says_why() -> None:
    silent = tried(SLOW, "cool", left="outdoor_fan")
    broken = Tried(system="house", kit="full", sequence="cool", fault=COIL.text, broken="the rig was lost")
    figures = found(silent, tried(DUMB, "cool"), broken).kits["full"]

    reasons = {one.fault: (one.detectable, one.reason) for one in figures.undetected}
    assert reasons == {
        SLOW.text: (True, "it shows in cool (outdoor fan), where nothing fails"),
        DUMB.text: (False, "nothing that the kit sees differs from a healthy machine"),
        COIL.text: (False, "it could not be run: the rig was lost"),
    }


def test_faults_whose_same_expectations_fail_look_the_same() -> None:
    figures = found(
        tried(COIL, "cool", left="compressor", fails="a b"),
        tried(WIRE_Y, "cool", left="compressor wire_Y1", fails="a b"),
        tried(WIRE_G, "cool", left="blower", fails="a"),
        tried(SLOW, "cool", left="blower"),
    ).kits["full"]

    assert figures.alike == [("house", (COIL.text, WIRE_Y.text))]
    assert figures.isolated_to_1 == pytest.approx(1 / 3)
    assert figures.isolated_to_3 == 1


def test_the_same_expectation_of_a_monitor_in_another_sequence_looks_different() -> None:
    figures = found(
        tried(COIL, "cool", left="compressor", fails="a", of="protection"),
        tried(WIRE_Y, "fan", left="compressor", fails="a", of="protection"),
    ).kits["full"]

    assert figures.alike == []
    assert figures.caught_by == {"protection": 2}


def test_a_sequence_catches_alone_what_no_other_catches() -> None:
    figures = found(
        tried(COIL, "cool", left="compressor", fails="a"),
        tried(COIL, "fan", left="compressor", fails="a"),
        tried(WIRE_G, "cool", left="blower", fails="a"),
        tried(WIRE_G, "fan"),
    ).kits["full"]

    assert figures.alone == {"cool": 1, "fan": 0}


def test_each_kit_has_figures_of_its_own() -> None:
    kits = cover(
        [healthy(kit="full"), healthy(kit="ears")],
        [tried(COIL, "cool", left="compressor", fails="a"), tried(COIL, "cool", kit="ears")],
        {"house": [COIL]},
    ).kits

    assert {name: (one.faults, one.detectable, one.detected) for name, one in kits.items()} == {
        "ears": (1, 0, 0),
        "full": (1, 1, 1),
    }
    assert kits["ears"].detection_rate is None


def test_false_alarms_are_runs_and_not_expectations() -> None:
    answer = cover(
        [healthy(alarms=("seed 1: cool/a", "seed 1: cool/b", "seed 2: cool/a"), not_verified=1), healthy("fan")],
        [],
        {"house": []},
    )

    assert (answer.healthy_runs, answer.false_alarms, answer.not_verified_healthy, answer.runs) == (6, 2, 1, 6)
    assert answer.alarms[0] == "house, full, cool, seed 1: cool/a"
