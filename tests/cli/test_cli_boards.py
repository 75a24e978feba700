"""The commands for boards, as far as they go without one."""

from __future__ import annotations

import json

import pytest

from stagecall.cli import main
from stagecall.errors import ExitCode
from stagecall.rigs.board import Port

HERE = ["--rig", "board:/dev/there-is-no-such-port", "--kit", "bench-16"]


def test_ports_are_listed_and_none_is_opened(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    found = [Port("/dev/one", "an adapter", held=False), Port("/dev/two", "another", held=True)]
    monkeypatch.setattr("stagecall.cli.boards.ports", lambda: found)

    assert main(["board", "list"]) == ExitCode.PASSED
    assert capsys.readouterr().out.splitlines() == ["/dev/one  an adapter", "/dev/two  another  (in use by a run)"]
    main(["board", "list", "--json"])
    assert [port["held"] for port in json.loads(capsys.readouterr().out)["ports"]] == [False, True]


def test_without_a_port_it_is_said_so(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    monkeypatch.setattr("stagecall.cli.boards.ports", list)

    assert main(["board", "list"]) == ExitCode.PASSED
    assert "no serial port" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (["identify", "/dev/there-is-no-such-port"], "there is no port"),
        (["exercise", *HERE, "--system", "trainer-mockup"], "needs a person at a terminal"),
        (["point-to-point", *HERE, "--system", "trainer-mockup"], "there is no port"),
        (["point-to-point", *HERE, "--system", "split-gas-cool"], "is no mockup"),
        (["point-to-point", *HERE[:2], "--kit", "full", "--system", "trainer-mockup"], "does not say what hangs"),
    ],
)
def test_what_cannot_be_done_is_said_in_a_sentence(
    arguments: list[str], told: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["board", *arguments]) == ExitCode.BAD_INPUT
    assert told in capsys.readouterr().err.replace("\n", " ")
