"""Recordings that other people made, against figures computed without this project."""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise
from pathlib import Path
from statistics import median

import pytest
from stretches import figures

from stagecall.imports import Recording, load_map, read_recording
from stagecall.model.event import AnyLine, Call, Gap, Reading, Snapshot
from stagecall.record import Log, read

MAPS = Path(__file__).parent / "maps"
ROOFTOP = "04_rtu_two_stage_1min.csv"

Real = Callable[[str], Path]


def bring_in(path: Path, map_name: str) -> tuple[Recording, list[AnyLine]]:
    recording = read_recording(path, load_map(MAPS / f"{map_name}.yaml"))
    return recording, list(recording.events())


def test_the_rooftop_unit_as_recorded(real: Real) -> None:
    recording, lines = bring_in(real(ROOFTOP), "rooftop")
    cool, second, fan = figures(lines, "Y1"), figures(lines, "Y2"), figures(lines, "blower")

    assert (recording.used, recording.bad, recording.start) == (1440, (), "2016-07-13T01:00:00-07:00")
    assert [line for line in lines if isinstance(line, Gap)] == []
    assert (len(cool.starts), min(cool.on), median(cool.on), max(cool.on)) == (34, 240, 780, 1860)
    assert (min(cool.off), median(cool.off), max(cool.off)) == (480, 1020, 10800)
    assert (sum(time < 600 for time in cool.on), sum(time < 600 for time in cool.off)) == (9, 2)
    assert (len(second.starts), sorted(second.on)) == (2, [540, 660])
    assert len(fan.starts) == 3
    assert figures(lines, "W1").starts == []


def test_the_rooftop_unit_with_its_rows_of_zeros_as_gaps(real: Real) -> None:
    recording, lines = bring_in(real(ROOFTOP), "rooftop-zeros-missing")
    cool = figures(lines, "Y1")

    assert (recording.used, recording.rows.zero_rows, recording.bad) == (1350, 90, ())
    gaps = [line for line in lines if isinstance(line, Gap)]
    assert [line.because for line in gaps] == [
        f"nothing was recorded for {minutes} min"
        for minutes in (40, 41, 12)  # 39, 40 and 11 rows are missing
    ]
    assert (len(cool.starts), min(cool.on), min(cool.off)) == (32, 360, 480)
    assert (len(figures(lines, "Y2").starts), figures(lines, "blower").starts) == (2, [])


def test_both_of_the_rooftop_units_time_columns_give_the_same_lines(real: Real) -> None:
    local, epoch = bring_in(real(ROOFTOP), "rooftop"), bring_in(real(ROOFTOP), "rooftop-epoch")

    assert epoch[0].header("a").start == local[0].header("a").start
    assert epoch[1] == local[1]


def test_a_sampled_call_changed_after_the_row_before_and_not_after_its_own(real: Real) -> None:
    _, lines = bring_in(real(ROOFTOP), "rooftop")

    assert {line.t - (line.e or 0) for line in lines if isinstance(line, Call)} == {59_999}


def test_the_rooftop_units_temperatures_are_read_in_celsius(real: Real) -> None:
    _, lines = bring_in(real(ROOFTOP), "rooftop-zeros-missing")
    supply = [line.value for line in lines if isinstance(line, Reading) and line.point == "supply_air"]

    assert len(supply) == 1350
    assert supply[0] == pytest.approx((73.3 - 32) / 1.8)


def test_the_thermostats_cycles_with_touching_ones_joined(real: Real) -> None:
    recording, lines = bring_in(real("02_thermostat_cycle_events.csv"), "thermostat-cycles")
    cool, heat = figures(lines, "Y1"), figures(lines, "W1")
    between = [off for off, _ in between_calls(lines)]

    assert (recording.used, recording.bad) == (3713, ())
    assert len(cool.starts) + len(heat.starts) == 3695
    assert (min(between), sum(off < 300 for off in between)) == (240, 3)
    assert sorted(off for off in between if off < 300) == [240, 243, 298]
    assert [off for off, changes in between_calls(lines) if changes] == [456_462]


def test_the_thermostats_cycles_with_touching_ones_apart(real: Real) -> None:
    _, lines = bring_in(real("02_thermostat_cycle_events.csv"), "thermostat-cycles-apart")
    cool, heat = figures(lines, "Y1"), figures(lines, "W1")

    assert (len(cool.starts), len(heat.starts)) == (2958, 755)
    assert (min(cool.on), median(cool.on), max(cool.on)) == (60, 487, 11461)
    assert (min(heat.on), median(heat.on), max(heat.on)) == (60, 420, 2400)
    assert [off for off, _ in between_calls(lines)].count(0) == 18
    assert (sum(on < 300 for on in cool.on + heat.on), sum(on < 180 for on in cool.on + heat.on)) == (116, 13)


def between_calls(lines: list[AnyLine]) -> list[tuple[float, bool]]:
    """Seconds from each cycle's end to the next one's start, and whether it changes over to the other mode."""
    calls = [line for line in lines if isinstance(line, Call)]
    return [
        ((on.t - off.t) / 1000, on.terminal != off.terminal)
        for off, on in pairwise(calls)
        if (off.state, on.state) == ("off", "on")
    ]


def test_the_air_handlers_blanks_are_no_readings_and_its_gaps_are_gaps(real: Real) -> None:
    recording, lines = bring_in(real("08a_ahu_temps_missing_values.csv"), "air-handler")
    readings = [line.point for line in lines if isinstance(line, Reading)]

    assert (recording.used, recording.bad, recording.start) == (649, (), "2014-07-22T12:00:00-00:00")
    assert (readings.count("outdoor_air"), readings.count("return_air")) == (649 - 52, 649 - 50)
    gaps = [line for line in lines if isinstance(line, Gap)]
    assert [(line.t, line.because) for line in gaps] == [
        (4 * 60_000 + 1, "nothing was recorded for 52 min"),
        (59 * 60_000 + 1, "nothing was recorded for 22 min"),
    ]
    assert [line.t for line in lines if isinstance(line, Snapshot)] == [0, 56 * 60_000, 81 * 60_000]


def test_the_relays_in_a_german_locale(real: Real) -> None:
    recording, lines = bring_in(real("10a_solar_relays_de.tsv"), "relays-german")
    one, two, three = (figures(lines, f"circulator_{number}") for number in (1, 2, 3))
    readings = [line.point for line in lines if isinstance(line, Reading)]

    assert (recording.used, recording.bad) == (1439, ())
    assert (len(one.starts), min(one.on), median(one.on), max(one.on)) == (46, 60, 900, 1620)
    assert (min(one.off), median(one.off)) == (120, 120)
    assert (len(two.starts), min(two.on), median(two.on), max(two.on), min(two.off)) == (5, 60, 840, 7320, 660)
    assert (len(three.starts), min(three.on), median(three.on), max(three.on), min(three.off)) == (
        10, 360, 480, 1320, 600,
    )  # fmt: skip
    assert (readings.count("outdoor_air"), readings.count("outdoor_coil")) == (1439, 0)
    assert next(line.value for line in lines if isinstance(line, Reading)) == pytest.approx(-0.7)


def test_the_relays_with_two_damaged_lines(real: Real) -> None:
    recording, lines = bring_in(real("10b_solar_relays_de_corrupt.tsv"), "relays-german")
    one, two, three = (figures(lines, f"circulator_{number}") for number in (1, 2, 3))

    assert recording.used == 1438
    assert [str(bad) for bad in recording.bad] == [
        "line 1124: '2.2017 18:42' is not a time as %d.%m.%Y %H:%M",
        "line 1125: has 30 cells, the first line has 28",
    ]
    assert (len(one.starts), min(one.on), min(one.off)) == (7, 420, 120)
    assert (two.starts, two.off) == ([], [])
    assert (len(three.starts), min(three.off)) == (3, 600)
    assert recording.source.points["circulator_1"].blind == 180_000


def test_a_real_recording_becomes_a_log_that_reads_back(real: Real, tmp_path: Path) -> None:
    recording, lines = bring_in(real(ROOFTOP), "rooftop-zeros-missing")
    log = Log.create(tmp_path / "rooftop.run.jsonl", recording.header("rooftop"))
    written = [log.append(line) for line in recording.lines()]
    log.close()

    reading = read(tmp_path / "rooftop.run.jsonl")
    kept = [line for line in reading.lines if type(line).__name__ not in {"Header", "Seal"}]

    assert (reading.complete, reading.damage, reading.header.tested_on) == (True, [], "recorded log")
    assert kept == written
    assert len(written) == len(lines) + 3  # the map, and two notes
