"""``stagecall replay``: judged anew, from the log alone."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest

from cli.answering_rig import AnsweringRig
from cli.conftest import Said
from stagecall.model import event
from stagecall.model.event import Edge, Header, VerdictLine
from stagecall.record import Log, read

Command = Callable[..., Said]


@pytest.fixture
def log(command: Command) -> Path:
    """A log of a run that passed."""
    assert command("run", "--log", "fan.jsonl").code == 0
    return Path("fan.jsonl")


def rewritten(log: Path, change: Callable[[event.AnyLine], event.AnyLine | None]) -> Path:
    """The same log with lines changed or taken out, sealed anew."""
    header, *rest = read(log).lines
    changed = change(header)
    assert isinstance(changed, Header)
    copy = Log.create(Path("copy.jsonl"), changed)
    for line in rest:
        if not isinstance(line, event.Seal) and (kept := change(line)) is not None:
            copy.append(kept)
    copy.close()
    return Path("copy.jsonl")


def test_a_replay_prints_what_the_run_printed_and_that_the_verdicts_agree(command: Command) -> None:
    ran = command("run", "--log", "fan.jsonl")
    said = command("replay", "fan.jsonl")
    remark = "The 7 stored verdicts agree with those judged anew.\n\n"

    assert said.code == 0
    assert remark in said.out
    assert said.out.replace(remark, "") == ran.out
    assert said.err == ""


def test_a_replay_needs_neither_library_nor_system(command: Command, log: Path, shelf: Path) -> None:
    for file in shelf.rglob("*.yaml"):
        file.unlink()

    assert command("replay", str(log)).code == 0


def test_as_json_it_says_that_they_agree(command: Command, log: Path) -> None:
    result = json.loads(command("replay", str(log), "--json").out)

    assert result["agrees"] is True
    assert result["rules_changed"] is False
    assert result["seals"] == "whole"
    assert result["result"] == "pass"


def test_a_failed_run_is_replayed_with_1_and_an_unverified_one_with_3(
    command: Command, monkeypatch: pytest.MonkeyPatch
) -> None:
    codes = {}
    for blower in ("silent", "unseen"):
        monkeypatch.setattr(AnsweringRig, "blower", blower)
        command("run", "--log", f"{blower}.jsonl")
        codes[blower] = command("replay", f"{blower}.jsonl").code

    assert codes == {"silent": 1, "unseen": 3}


def test_a_broken_off_run_is_replayed_by_its_verdicts(command: Command, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(AnsweringRig, "at_call", AnsweringRig.interrupt)
    assert command("run", "--log", "cut.jsonl").code == 130

    assert command("replay", "cut.jsonl").code == 3


def test_verdicts_stripped_it_judges_and_says_that_there_were_none(command: Command, log: Path) -> None:
    stripped = rewritten(log, lambda line: None if isinstance(line, VerdictLine) else line)
    said = command("replay", str(stripped))

    assert said.code == 0
    assert "The log holds no verdicts; those shown were judged now." in said.out
    assert json.loads(command("replay", str(stripped), "--json").out)["agrees"] is None


def test_a_changed_edge_disagrees_and_ends_with_1(command: Command, log: Path) -> None:
    def later(line: event.AnyLine) -> event.AnyLine:
        if isinstance(line, Edge) and line.state == "on":
            return Edge(n=line.n, t=line.t, e=line.t - 100, point=line.point, state=line.state)
        return line

    said = command("replay", str(rewritten(log, later)))

    assert said.code == 1
    assert "fan call-the-fan.1: stored PASS, judged anew PASS on other evidence" in said.out
    assert "The stored verdicts DISAGREE with those judged anew." in said.out


def test_a_forged_verdict_disagrees_and_ends_with_1(command: Command, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(AnsweringRig, "blower", "unseen")
    command("run", "--log", "fan.jsonl")

    def forged(line: event.AnyLine) -> event.AnyLine:
        if isinstance(line, VerdictLine) and not line.of:
            return VerdictLine(n=line.n, t=line.t, verdict=event.Verdict.PASS)
        return line

    said = command("replay", str(rewritten(Path("fan.jsonl"), forged)))

    assert said.code == 1
    assert "the run: stored PASS, judged anew NOT VERIFIED (not observed)" in said.out


def test_under_other_rules_it_says_so_and_does_not_disagree(command: Command, log: Path) -> None:
    def older(line: event.AnyLine) -> event.AnyLine:
        if isinstance(line, Header):
            line.judging = 0
        if isinstance(line, VerdictLine):
            line.detail = "as it was said then"
        return line

    copy = rewritten(log, older)
    said = command("replay", str(copy))
    result = json.loads(command("replay", str(copy), "--json").out)

    assert said.code == 0
    assert "Rules changed: judged under version 0 when it was recorded, under version 1 now." in said.out
    assert (result["agrees"], result["rules_changed"]) == (None, True)


def test_a_broken_seal_ends_with_1(command: Command, log: Path) -> None:
    lines = log.read_bytes().splitlines(keepends=True)
    log.write_bytes(b"".join(line for line in lines if b'"k":"wait"' not in line and b'"k":"settle"' not in line))
    said = command("replay", str(log))

    assert said.code == 1
    assert "The seal on line" in said.out
    assert "BROKEN SEAL: this log is not as it was recorded." in said.out
    assert json.loads(command("replay", str(log), "--json").out)["seals"] == "broken"


def test_a_damaged_line_is_located_and_ends_with_1(command: Command, log: Path) -> None:
    log.write_bytes(log.read_bytes().replace(b'"state":"on"', b'"state":"no"', 1))
    said = command("replay", str(log))

    assert said.code == 1
    assert "is damaged (its checksum is wrong) and is left out." in said.out


def test_a_log_that_breaks_off_is_judged_to_its_last_whole_line_and_is_not_broken(command: Command, log: Path) -> None:
    whole = log.read_bytes()
    log.write_bytes(whole[: whole.index(b'"point":"blower","state":"off"') + 5])
    said = command("replay", str(log))

    assert said.code == 3
    assert "is torn (the log ends inside it) and is left out." in said.out
    assert "NOT VERIFIED  fan" in said.out
    assert "The log was never closed." in said.out
    assert "BROKEN" not in said.out


@pytest.mark.parametrize(
    ("contents", "message"),
    [
        (None, "stagecall: The log no.jsonl cannot be read: there is no such file.\n"),
        (b"", "stagecall: no.jsonl is not a run log: its first line is no header.\n"),
        (b"Time,Y\n0,1\n", "stagecall: no.jsonl is not a run log: its first line is no header.\n"),
    ],
)
def test_what_is_no_log_ends_with_2(command: Command, contents: bytes | None, message: str) -> None:
    if contents is not None:
        Path("no.jsonl").write_bytes(contents)
    said = command("replay", "no.jsonl")

    assert (said.code, said.out, said.err) == (2, "", message)


def test_a_folder_is_no_log(command: Command) -> None:
    said = command("replay", ".")

    assert (said.code, said.out) == (2, "")
    assert said.err == "stagecall: The log . cannot be read: is a directory.\n"
