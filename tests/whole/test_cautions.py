"""What a sequence warns of is said before it runs."""

from __future__ import annotations

from stagecall.cli.cautions import cautions
from whole.harness import made_ready


def test_on_the_model_each_caution_is_said_once_and_shortly() -> None:
    said = cautions(made_ready("dual-fuel", "full", ())).splitlines()

    assert len(said) == len(set(said)) > 5
    assert all(line.startswith("CAUTION: ") and line.endswith(".") and ". " not in line[:-1] for line in said)


def test_what_does_not_apply_warns_of_nothing() -> None:
    assert cautions(made_ready("cooling-only", "full", ("gas-heat-one-stage",))) == ""
