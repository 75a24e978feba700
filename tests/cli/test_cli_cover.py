"""``stagecall cover``, on a small choice of the shipped library."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import pytest

from stagecall.cli import covering, main
from stagecall.errors import ExitCode
from stagecall.rigs.clock import HandClock
from stagecall.run import jobs
from stagecall.run.results import Results
from stagecall.run.trial import START

SMALL = ("cover", "--system", "cooling-only", "--sequence", "fan", "--sequence", "at-rest", "--draws", "5")


@pytest.fixture(autouse=True)
def work(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    return tmp_path


def test_every_fault_is_run_and_told_as_json_and_csv(capsys: pytest.CaptureFixture[str], work: Path) -> None:
    code = main([*SMALL, "--kit", "full", "--jobs", "2", "--json", "--csv", "rows.csv"])

    answer = json.loads(capsys.readouterr().out)
    full = answer["kits"]["full"]
    rows = list(csv.DictReader((work / "rows.csv").read_text().splitlines()))
    assert code == ExitCode.PASSED
    assert answer["healthy_runs"] == 2 * 6
    assert answer["runs"] == 2 * 6 + len(rows)
    assert len(rows) == 2 * full["faults"]
    assert answer["false_alarms"] == 0
    assert full["detected"] == round(full["detection_rate"] * full["detectable"])
    assert full["faults"] - full["detected"] == len(full["undetected"])
    assert all(set(one) >= {"fault", "system", "reason"} for one in full["undetected"])
    assert {"seconds", "not_verified_healthy"} <= set(answer)
    assert {"part_detection_rate", "isolated_to_1", "isolated_to_3"} <= set(full)
    relay = next(one for one in answer["matrix"] if one["fault"].startswith("blower-relay-stuck-on"))
    assert relay["caught_by"] == ["at-rest", "fan"]


def test_a_second_call_runs_nothing_anew(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    main([*SMALL, "--kit", "full", "--jobs", "1", "--resume", "kept.jsonl"])
    first = capsys.readouterr().out
    monkeypatch.setattr(jobs, "work", lambda job: pytest.fail(f"{job} was done again"))

    main([*SMALL, "--kit", "full", "--jobs", "1", "--resume", "kept.jsonl"])

    assert capsys.readouterr().out.partition("\n")[2].partition("\n")[2] == first.partition("\n")[2].partition("\n")[2]


def test_few_healthy_machines_are_told_to_be_few(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    main([*SMALL, "--kit", "full", "--jobs", "1"])
    few = capsys.readouterr().err
    monkeypatch.setattr(covering, "ENOUGH_DRAWS", 5)
    main([*SMALL, "--kit", "full", "--jobs", "1"])
    enough = capsys.readouterr().err

    assert "With 5 healthy machines their range comes out too narrow" in few
    assert "too narrow" not in enough


def test_after_ctrl_c_what_is_done_is_kept(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    done = jobs.work
    count = 0

    def interrupted(job: jobs.Job) -> jobs.Done:
        nonlocal count
        count += 1
        if count > 1:
            raise KeyboardInterrupt
        return done(job)

    monkeypatch.setattr(jobs, "work", interrupted)
    code = main([*SMALL, "--kit", "full", "--jobs", "1", "--resume", "kept.jsonl"])

    said = capsys.readouterr()
    assert code == ExitCode.INTERRUPTED
    assert said.out == ""
    assert "kept.jsonl" in said.err
    digest = json.loads(Path("kept.jsonl").read_text().splitlines()[0])[1]["digest"]
    assert [len(one.seeds) for one in Results(digest, Path("kept.jsonl")).healthy] == [6]


def test_the_terminal_is_told_rates_and_what_is_not_caught(capsys: pytest.CaptureFixture[str]) -> None:
    main([*SMALL, "--kit", "board-24v", "--jobs", "1"])

    told = capsys.readouterr().out
    assert told.startswith("TESTED ON: MODEL\n")
    assert "kit board-24v" in told
    assert "not caught:" in told
    assert "look the same:" in told


def test_an_executor_can_be_handed_in() -> None:
    class Counting(jobs.Inline):
        given = 0

        def submit(self, *args, **kwargs):  # type: ignore[no-untyped-def]
            self.given += 1
            return super().submit(*args, **kwargs)

    mine = Counting()
    options = covering.Options(systems=("cooling-only",), sequences=("fan",), kits=("full",), draws=5)

    assert covering.cover(options, HandClock(START), mine) == ExitCode.PASSED
    assert mine.given >= 2


def test_the_bar_tells_rate_and_time_to_go() -> None:
    clock = HandClock(START)
    wanted = jobs.Task(places=(("s", "k", "q"),), faults={"s": ()}, seeds=tuple(range(1000)), digest="")
    progress = covering.Progress(wanted, Results(""), clock)
    assert progress.line(79) == "[                    ] 0 of 1000 runs"

    clock.sleep_ms(2000)
    progress.told(250)

    assert progress.line(79) == "[#####               ] 250 of 1000 runs, 125 a second, 6 s to go"
    assert progress.line(50) == "[#####               ] 250 of 1000 runs, 6 s to go"
    assert progress.line(39) == "250 of 1000 runs, 6 s to go"
    assert all(len(progress.line(columns)) <= columns for columns in range(80))


@pytest.mark.parametrize("option", ["--csv", "--matrix"])
def test_a_place_that_cannot_be_written_is_told_before_anything_runs(
    option: str, capsys: pytest.CaptureFixture[str], work: Path
) -> None:
    assert main([*SMALL, "--kit", "full", option, "nowhere/rows"]) == ExitCode.BAD_INPUT
    assert capsys.readouterr().err == "stagecall: nowhere/rows cannot be written: there is no folder nowhere\n"
    assert list(work.iterdir()) == []


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="this machine has no device that is always full")
@pytest.mark.parametrize("option", ["--csv", "--matrix", "--resume"])
def test_a_full_disk_is_told_with_the_name_of_the_file(option: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main([*SMALL, "--kit", "full", "--jobs", "1", option, "/dev/full"]) == ExitCode.BAD_INPUT
    assert capsys.readouterr().err.splitlines()[-1] == "stagecall: /dev/full: No space left on device"


def test_a_choice_that_leaves_nothing_to_run_is_told(capsys: pytest.CaptureFixture[str], work: Path) -> None:
    assert main(["cover", "--system", "cooling-only", "--sequence", "oil-heat"]) == ExitCode.BAD_INPUT
    assert "no chosen sequence applies to a chosen system" in capsys.readouterr().err
    assert list(work.iterdir()) == []


def test_where_the_results_are_kept_is_said(capsys: pytest.CaptureFixture[str], work: Path) -> None:
    main([*SMALL, "--kit", "full", "--jobs", "1"])

    (kept,) = work.iterdir()
    assert capsys.readouterr().err.startswith(f"The results of every run are kept in {kept.name}.\n")


def test_an_unknown_name_is_told_before_anything_runs(capsys: pytest.CaptureFixture[str], work: Path) -> None:
    assert main(["cover", "--system", "coling-only"]) == ExitCode.BAD_INPUT
    assert "did you mean 'cooling-only'?" in capsys.readouterr().err
    assert list(work.iterdir()) == []
