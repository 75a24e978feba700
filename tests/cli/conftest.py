"""A library of one fan, and a rig that stands in for the model, so that no command here depends on the plant."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import msgspec
import pytest

from cli.answering_rig import AnsweringRig
from stagecall.cli import main
from stagecall.documents import library
from stagecall.rigs import registry

FILES = {
    "sequences/fan/fan.yaml": """
        sequence: fan
        title: The fan runs on its own call
        purpose: G alone must start the blower and nothing else.
        group: fan
        needs: {calls: [G], points: [blower]}
        limits:
          answer: {default: ..10 s, source: boards answer within seconds, maker_data: cool_blower_on_delay, allow: 2 s}
        starts: {blower: off}
        caution: The blower starts.
        steps:
          - step: Call the fan
            because: The blower relay answers G.
            call: [G]
            expect:
              - turns: {blower: on}
                within: answer
                because: A slow one has a bad relay.
          - step: End the call
            call: []
            expect:
              - turns: {blower: off}
                within: answer
        """,
    "sequences/monitors/often.yaml": """
        monitor: often
        title: The blower does not start too often
        purpose: A relay that chatters wears out.
        needs: {points: [blower]}
        limits:
          starts: {default: ..6, source: thermostats allow six cycles an hour}
        expect:
          - times: {blower: on}
            count: starts
            per: 60 min
        """,
    "sim/systems/cottage.yaml": """
        system: cottage
        title: A blower and its control
        scenario: A blower alone.
        energy: {fuel: none, compressor: none, elements: none}
        control: {terminals: [R, C, G]}
        equipment:
          handler: {profile: small-handler}
        conductors:
          - {name: G, from: control.G, to: handler.G}
        maker_data:
          cool_blower_on_delay: {value: 5 s, source: its data sheet}
        must_run: [fan]
        """,
    "sim/kits/ears.yaml": """
        kit: ears
        title: Ears
        points:
          blower: {sensed: person, on: 0..1 s, off: 0..1 s, blind: 1 s}
        """,
    "sim/equipment/small-handler.yaml": """
        equipment: small-handler
        title: A small air handler
        what: air_handler
        terminals: [R, C, G]
        parts: {}
        wiring: []
        points: {blower: {load_volts: G}}
        """,
}


@pytest.fixture
def shelf(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The library's folder, and the working directory beside it."""
    folder = tmp_path / "library"
    for name, text in FILES.items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        margin = " " * 8
        path.write_text("\n".join(line.removeprefix(margin) for line in text.strip("\n").splitlines()), "utf-8")
    (folder / "sequences" / "blocks").mkdir()
    (folder / "sim" / "faults").mkdir()
    monkeypatch.setattr(library, "library_folder", lambda: folder)
    work = tmp_path / "work"
    work.mkdir()
    monkeypatch.chdir(work)
    return folder


class Said(msgspec.Struct):
    """How a command ended and what it said."""

    code: int
    out: str
    err: str


@pytest.fixture
def command(
    shelf: Path,  # noqa: ARG001 - the library that the commands find
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> Callable[..., Said]:
    """Give the program arguments; ``run`` takes the cottage, ears, and the rig that answers."""
    monkeypatch.setitem(registry.RIGS, "simulated", "cli.answering_rig")
    monkeypatch.setattr(AnsweringRig, "blower", "answers")
    monkeypatch.setattr(AnsweringRig, "at_call", None)
    monkeypatch.setattr(AnsweringRig, "drawn", [])
    monkeypatch.setattr(AnsweringRig, "bad", ())

    def give(*arguments: str) -> Said:
        if arguments[:1] == ("run",):
            arguments = ("run", "--system", "cottage", "--kit", "ears", *arguments[1:])
        code = main(arguments)
        said = capsys.readouterr()
        return Said(code, said.out, said.err)

    return give
