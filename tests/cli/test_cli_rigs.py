"""``--rig``: what a run is made on."""

from __future__ import annotations

from collections.abc import Callable

import pytest

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
