"""``--rig``: what a run is made on."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from cli.answering_rig import AnsweringRig
from cli.conftest import Said
from stagecall.cli import main
from stagecall.rigs import registry

Command = Callable[..., Said]


@pytest.fixture
def real(monkeypatch: pytest.MonkeyPatch) -> None:
    """A rig called ``shelf`` that is none of the models."""
    monkeypatch.setitem(registry.RIGS, "shelf", "cli.answering_rig")


def test_an_unknown_rig_is_refused_and_the_nearest_one_named(command: Command) -> None:
    said = command("run", "--rig", "simulatd")

    assert (said.code, said.out, said.err) == (
        2,
        "",
        "stagecall: there is no rig 'simulatd'; did you mean 'simulated'?\n",
    )


@pytest.mark.parametrize("option", [("--fault", "x"), ("--seed", "3"), ("--draw", "2"), ("--pace", "1")])
@pytest.mark.usefixtures("real")
def test_what_belongs_to_the_model_is_refused_on_a_real_rig(command: Command, option: tuple[str, str]) -> None:
    said = command("run", "--rig", "shelf:anywhere", *option)

    assert (said.code, said.err) == (2, f"stagecall: {option[0]} belongs to the model; rig shelf is real\n")


@pytest.mark.usefixtures("real", "shelf")
def test_on_a_real_rig_the_system_has_to_be_named(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["run", "--rig", "shelf", "--kit", "ears"]) == 2
    assert "say what is installed, with --system" in capsys.readouterr().err


@pytest.mark.usefixtures("real", "shelf")
def test_a_rig_without_a_usual_kit_has_to_be_told_one(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["run", "--rig", "shelf", "--system", "cottage"]) == 2
    assert "with --kit: rig shelf has no usual kit" in capsys.readouterr().err


@pytest.fixture
def cottage(shelf: Path) -> Callable[[str], str]:
    """The cottage with other lines in the place of its energy; gives the file."""

    def written(energy: str) -> str:
        text = (shelf / "sim/systems/cottage.yaml").read_text("utf-8")
        stated = "energy: {fuel: none, compressor: none, elements: none}"
        assert stated in text
        path = shelf / "mine" / "cottage.yaml"
        path.parent.mkdir()
        path.write_text(text.replace(stated, energy), "utf-8")
        return str(path)

    return written


def refused(capsys: pytest.CaptureFixture[str], *arguments: str) -> str:
    assert main(["run", "--kit", "ears", *arguments]) == 2
    said = capsys.readouterr()
    assert said.out == ""
    return said.err


def test_by_hand_a_person_has_to_sit_at_the_terminal(
    capsys: pytest.CaptureFixture[str], cottage: Callable[[str], str]
) -> None:
    mockup = cottage("energy: {fuel: none, compressor: none, elements: none}")

    said = refused(capsys, "--rig", "by-hand", "--system", mockup)

    assert said.startswith("stagecall: --rig by-hand needs a person at a terminal")


@pytest.mark.parametrize("where", ["", "\nshut_off: {fuel: the cock}"])
@pytest.mark.usefixtures("real")
def test_a_live_system_that_does_not_say_where_it_is_shut_off_is_refused(
    capsys: pytest.CaptureFixture[str], cottage: Callable[[str], str], where: str
) -> None:
    system = cottage(f"energy: {{fuel: live, compressor: none, elements: none}}{where}")

    said = refused(capsys, "--rig", "shelf", "--system", system)

    assert "is live, and its file does not say where it is shut off: add shut_off: {breaker: …" in said


@pytest.mark.parametrize(
    ("energy", "why"),
    [
        ("energy: {fuel: shut_off, compressor: none, elements: none}", "nothing is called unattended"),
        (
            "energy: {fuel: live, compressor: none, elements: none}\nshut_off: {fuel: a cock, breaker: number 3}",
            "nothing is called unattended",
        ),
    ],
)
@pytest.mark.usefixtures("real")
def test_on_equipment_nothing_is_called_unattended(
    capsys: pytest.CaptureFixture[str],
    cottage: Callable[[str], str],
    monkeypatch: pytest.MonkeyPatch,
    energy: str,
    why: str,
) -> None:
    monkeypatch.setattr(AnsweringRig, "tested_on", "equipment")

    assert why in refused(capsys, "--rig", "shelf", "--system", cottage(energy))


@pytest.mark.usefixtures("real")
def test_relays_call_no_live_equipment_without_a_dry_run(
    capsys: pytest.CaptureFixture[str], cottage: Callable[[str], str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(AnsweringRig, "tested_on", "equipment")
    monkeypatch.setattr("sys.stdin.isatty", lambda: True, raising=False)
    system = cottage("energy: {fuel: live, compressor: none, elements: none}\nshut_off: {fuel: a cock, breaker: 3}")

    said = refused(capsys, "--rig", "shelf", "--system", system)

    assert "CALL REFUSED: relays call live equipment only after a clean dry run of the same system." in said


def test_a_dry_run_is_nothing_for_a_model(command: Command) -> None:
    assert command("run", "--after-dry", "x.run.jsonl").err.startswith("stagecall: --after-dry belongs to equipment")


def test_a_run_of_the_model_is_no_dry_run(
    command: Command, capsys: pytest.CaptureFixture[str], cottage: Callable[[str], str], monkeypatch: pytest.MonkeyPatch
) -> None:
    assert command("run", "--log", "model.run.jsonl").code == 0
    monkeypatch.setitem(registry.RIGS, "shelf", "cli.answering_rig")
    system = cottage("energy: {fuel: live, compressor: none, elements: none}\nshut_off: {fuel: a cock, breaker: 3}")

    said = refused(capsys, "--rig", "shelf", "--system", system, "--after-dry", "model.run.jsonl")

    assert said == "stagecall: model.run.jsonl is no clean dry run of this system: it was tested on: model\n"
