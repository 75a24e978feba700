"""The wheel alone, installed elsewhere, lists and runs the same library as the checkout."""

from __future__ import annotations

import json
import subprocess
import sys
import venv
from pathlib import Path

import pytest

from stagecall.documents import Library

CHECKOUT = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def installed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("wheel")
    subprocess.run([sys.executable, "-m", "pip", "wheel", "-q", "--no-deps", "-w", folder, CHECKOUT], check=True)
    venv.create(folder / "elsewhere", with_pip=True)
    python = folder / "elsewhere" / "bin" / "python"
    (wheel,) = folder.glob("*.whl")
    subprocess.run([python, "-m", "pip", "install", "-q", wheel], check=True)
    return folder / "elsewhere" / "bin" / "stagecall"


@pytest.mark.thorough
def test_the_wheel_lists_what_the_checkout_has(installed: Path, tmp_path: Path) -> None:
    listed = subprocess.run([installed, "list", "--json"], cwd=tmp_path, check=True, capture_output=True)

    library = Library()
    shown = json.loads(listed.stdout)
    for kind, key in (("sequence", "sequences"), ("monitor", "monitors"), ("system", "systems"), ("kit", "kits")):
        assert sorted(row["name"] for row in shown[key]) == sorted(library.names(kind))


@pytest.mark.thorough
def test_the_wheel_runs_the_main_job(installed: Path, tmp_path: Path) -> None:
    ran = subprocess.run([installed, "run", "--json"], cwd=tmp_path, check=True, capture_output=True)

    assert json.loads(ran.stdout)["result"] == "pass"
    assert len(list(tmp_path.glob("*.run.jsonl"))) == 1
