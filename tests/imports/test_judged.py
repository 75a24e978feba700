"""A recording judged by monitors, from the CSV to the verdicts of its log."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import msgspec
import pytest

from resealed import strip_verdicts
from stagecall.documents import Library, resolve_monitor
from stagecall.imports import Recording, load_map, read_recording
from stagecall.judge import Judge, judge
from stagecall.model.event import Gap, VerdictLine
from stagecall.model.verdict import Verdict
from stagecall.record import Log, document, read

HERE = Path(__file__).parent
ROOT = HERE.parents[1]


def judged(recording: Recording, monitor: str) -> tuple[bytes, dict[str, VerdictLine]]:
    """The log with its verdicts, and the verdicts by expectation."""
    loaded = Library().load("monitor", monitor)
    plan = resolve_monitor(loaded, None, {}, Library(), must_run=True, seen=recording.source.points.keys())
    log, court = Log.in_memory(recording.header("a")), Judge()
    court.feed(log.header)
    verdicts = []
    for line in recording.lines([document("monitor", plan.name, loaded.raw, plan)]):
        verdicts += [log.append(verdict) for verdict in court.feed(log.append(line))]
    verdicts += [log.append(verdict) for verdict in court.finish(closed=True)]
    log.close()
    return log.contents(), {verdict.id: verdict for verdict in verdicts if isinstance(verdict, VerdictLine)}


@pytest.fixture
def afternoon() -> Recording:
    return read_recording(
        ROOT / "sim/recordings/split-cooling-afternoon.csv", load_map(ROOT / "sim/maps/split-cooling-logger.yaml")
    )


def test_the_example_that_ships_holds_one_short_cycle_and_one_gap(afternoon: Recording) -> None:
    assert (afternoon.used, afternoon.bad) == (197, ())
    assert [line.because for line in afternoon.events() if isinstance(line, Gap)] == ["nothing was recorded for 14 min"]

    _, verdicts = judged(afternoon, "compressor-protection")
    off, on, starts = (verdicts[each] for each in sorted(verdicts) if each)

    assert [off.verdict, on.verdict, starts.verdict] == [Verdict.FAIL, Verdict.PASS, Verdict.PASS]
    assert (off.instances, off.failed) == (7, 1)
    assert off.observed is not None
    assert (off.observed.low, off.observed.high) == (1, 119_999)


def test_a_log_of_a_recording_replays_to_the_same_verdicts_without_them(afternoon: Recording) -> None:
    raw, _ = judged(afternoon, "compressor-protection")
    stored = [line for line in read(raw).lines if isinstance(line, VerdictLine)]
    reading = read(strip_verdicts(raw))
    anew = judge(reading.lines, closed=True)

    assert len(stored) > 3
    assert [msgspec.structs.replace(line, n=-1) for line in stored] == anew


@pytest.mark.parametrize(
    ("map_name", "runs", "shortest_on"),
    [
        ("rooftop", Verdict.FAIL, (180_001, 299_999)),  # 240 s, cut by a dropout that was written as zeros
        ("rooftop-zeros-missing", Verdict.PASS, (300_001, 419_999)),  # 360 s
    ],
)
def test_how_the_map_reads_rows_of_zeros_decides_whether_the_rooftop_units_runs_are_too_short(
    real: Callable[[str], Path], map_name: str, runs: Verdict, shortest_on: tuple[int, int]
) -> None:
    recording = read_recording(real("04_rtu_two_stage_1min.csv"), load_map(HERE / "maps" / f"{map_name}.yaml"))

    _, verdicts = judged(recording, str(HERE / "monitors" / "compressor-calls.yaml"))
    off, on = (verdicts[each] for each in sorted(verdicts) if each)

    assert (off.verdict, on.verdict) == (Verdict.PASS, runs)
    assert off.observed is not None
    assert (off.observed.low, off.observed.high) == (420_001, 539_999)  # 480 s either way
    assert on.observed is not None
    assert (on.observed.low, on.observed.high) == shortest_on
