"""A fault of the user's own, written from the README: it runs from its file, and what is wrong in it has its place."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from pathlib import Path

import pytest

from stagecall.cli import main
from stagecall.cli.describing import Sentence, equipment_sentences, fault_sentences
from stagecall.documents import Kind, Library
from whole.harness import LIBRARY

README = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")
EXAMPLE = re.search(r"```yaml\n(fault: .+?)```", README, re.DOTALL)


def written(folder: Path, change: tuple[str, str] = ("", "")) -> str:
    """The README's example as a file there, with one thing changed."""
    assert EXAMPLE is not None
    text = EXAMPLE[1]
    assert change[0] in text
    (folder / "contactor-slow.yaml").write_text(text.replace(*change, 1), encoding="utf-8")
    return "./contactor-slow.yaml"


@pytest.fixture(autouse=True)
def elsewhere(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)


def test_the_readmes_fault_runs_from_its_file_and_its_log_replays(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = written(tmp_path)

    code = main(["run", "cool-one-stage", "--fault", file, "--log", "slow.run.jsonl"])

    said = capsys.readouterr().out
    assert code == 1
    assert f"FAULT {file}" in said
    assert re.search(r"FAIL +compressor turns on within 2 s of contactor on +2\.8", said)
    assert main(["replay", "slow.run.jsonl"]) == 1
    assert "agree" in capsys.readouterr().out


def test_with_a_severity_in_the_place_of_the_change_the_figure_can_be_given(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    severity = "severity: {of: operate_time, typical: 3 s, range: 1..10 s}"
    assert severity in README
    file = written(tmp_path, ("change: {operate_time: 3 s}", severity))

    code = main(["run", "cool-one-stage", "--fault", f"{file}=5s", "--log", "slow.run.jsonl"])

    assert code == 1
    assert re.search(r"compressor turns on within 2 s of contactor on +4\.", capsys.readouterr().out)


@pytest.mark.parametrize(
    ("change", "complaint"),
    [
        (("target: condenser.", "target: outdoor."), "5:9: system split-gas-cool has no 'outdoor.contactor'"),
        (("part_kind: contactor", "part_kind: contactors"), "6:12: the model has no 'contactors'; did you mean"),
        (("part_kind: contactor", "part_kind: fuse"), "6:12: fault contactor-slow befalls a fuse"),
        (("operate_time", "operating time"), "7:26: condenser.contactor (contactor) has no 'operating time'; did you"),
        (("3 s}", "3 V}"), "7:24: condenser.contactor.operate_time: '3 V' is not a time"),
        (("change", "changes"), "7:1: 'changes' is not a key here; did you mean"),
        (("part_kind: contactor\n", ""), "1:8: a fault has 'part_kind' with 'change', or 'wire'"),
        (("change: {operate_time: 3 s}\n", ""), "6:12: nothing is changed: a fault of a part has 'change'"),
        (("3 s}", "-3 s}"), "7:24: condenser.contactor.operate_time: -3 s is below zero"),
        (
            ("change: {operate_time: 3 s}", "severity: {of: operate_time, typical: 3 s, range: 5..10 s}"),
            "7:39: '3 s' does not lie in 'range: 5..10 s'",
        ),
        (
            ("change: {operate_time: 3 s}", "severity: {of: speed, typical: 3 s, range: 1..10 s}"),
            "7:16: condenser.cont",
        ),
    ],
)
def test_what_is_wrong_in_it_is_said_with_its_place(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], change: tuple[str, str], complaint: str
) -> None:
    file = written(tmp_path, change)

    code = main(["run", "cool-one-stage", "--fault", file])

    said = capsys.readouterr().err
    assert code == 2
    assert f"contactor-slow.yaml:{complaint}" in said
    assert "Traceback" not in said


@pytest.mark.parametrize("given", ["fast", "5", "5 V", "99 s"])
def test_a_severity_that_is_not_one_is_said_with_the_fault_and_its_range(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], given: str
) -> None:
    file = written(
        tmp_path, ("change: {operate_time: 3 s}", "severity: {of: operate_time, typical: 3 s, range: 1..10 s}")
    )

    assert main(["run", "fan", "--fault", f"{file}={given}"]) == 2

    said = capsys.readouterr().err
    assert said.startswith(f"stagecall: the severity of '{file}' ")
    assert "1..10 s" in said


def test_all_that_is_wrong_in_it_is_said_at_once(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = written(
        tmp_path, ("contactor\nchange: {operate_time: 3 s}", "contact\nchange: {operate time: 3 s, coil: 5}")
    )

    assert main(["run", "cool-one-stage", "--fault", file]) == 2

    said = capsys.readouterr().err.splitlines()
    assert [line.partition(": ")[0] for line in said] == [
        "contactor-slow.yaml:6:12", "contactor-slow.yaml:7:24", "contactor-slow.yaml:7:35",
    ]  # fmt: skip


def test_a_target_of_the_command_line_is_not_looked_for_in_the_file(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["run", "fan", "--fault", f"{written(tmp_path)}@condensor.contactor"]) == 2
    assert capsys.readouterr().err == (
        "stagecall: system split-gas-cool has no 'condensor.contactor'; did you mean 'condenser.contactor'?\n"
    )


def test_a_machine_is_explained_with_what_a_fault_may_change(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["explain", "condensing-unit-one-stage"]) == 0

    said = capsys.readouterr().out
    assert "Called condenser on " in said
    assert "\ncontactor (contactor)\n" in said
    assert "\n  operate_time: 25 ms; 10..35 ms seen\n" in said
    assert "\n  contacts: free, one of free, welded, stuck_open\n" in said


def test_a_fault_is_explained_with_what_must_catch_it(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["explain", "prepurge-short"]) == 0

    said = capsys.readouterr().out
    assert said.startswith("prepurge-short: The board hardly purges before it lights\nShows: ")
    assert "It befalls a furnace_board, at furnace.board.\n" in said
    assert "Severity: prepurge, 2 s unless --fault prepurge-short=… says other, 0..10 s.\n" in said
    assert "On split-gas-cool with kit full: caught by " in said


def test_a_fault_of_ones_own_is_explained_too(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["explain", written(tmp_path)]) == 0

    said = capsys.readouterr().out
    assert said.startswith("contactor-slow: The contactor is slow\n")
    assert "It befalls a contactor, at condenser.contactor: operate_time 3 s.\n" in said
    assert f"Put it into the model with --fault {written(tmp_path)}.\n" in said


@pytest.mark.parametrize(("kind", "told"), [("fault", fault_sentences), ("equipment", equipment_sentences)])
def test_every_one_of_the_library_is_explained(kind: Kind, told: Callable[[str, Library], Iterable[Sentence]]) -> None:
    for name in LIBRARY.names(kind):
        said = list(told(name, LIBRARY))
        assert said[0][1].startswith(f"{name}: ")
        assert len(said) > 4


def test_every_fault_of_the_library_says_what_catches_it() -> None:
    assert [name for name in LIBRARY.names("fault") if not LIBRARY.load("fault", name).document.caught_by] == []
