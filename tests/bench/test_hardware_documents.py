"""Tables, drawings and the specification say what the firmware does."""

from __future__ import annotations

import re
import subprocess
import sys
import tomllib
from collections.abc import Callable
from pathlib import Path
from xml.etree import ElementTree as ET

import pytest
from builds import FIRMWARE, HARDWARE
from simulated_board import CYCLES_PER_MS, LARGE, SMALL, Bench, Part
from vectors import VECTORS, raw

from stagecall.rigs.frames import opened

TABLE = tomllib.loads((HARDWARE / "wiring/wiring.toml").read_text(encoding="utf-8"))
SPECIFICATION = (HARDWARE / "protocol/SPECIFICATION.md").read_text(encoding="utf-8")


def headers() -> list[str]:
    """The firmware's own table of commands."""
    source = (FIRMWARE / "core/command.c").read_text(encoding="utf-8")
    table = source[source.index("HEADERS[") : source.index("};", source.index("HEADERS["))]
    return re.findall(r'"([^"]+)"', table)


def short(header: str) -> str:
    return re.sub("[a-z]", "", header)


def test_drawings_and_tables_are_those_of_the_table(tmp_path: Path) -> None:
    subprocess.run((sys.executable, str(HARDWARE / "wiring/draw.py"), str(tmp_path)), check=True)
    made = sorted(tmp_path.iterdir())

    assert len(made) == 7
    for path in made:
        kept = (HARDWARE / "wiring" / path.name).read_text(encoding="utf-8")
        assert path.read_text(encoding="utf-8") == kept, f"{path.name} is old: run draw.py"
        if path.suffix == ".svg":
            ET.fromstring(kept)  # noqa: S314 - drawn by us


@pytest.mark.parametrize("part", [SMALL, LARGE], ids=lambda p: p.name)
def test_every_relay_and_input_is_on_the_pin_of_the_table(board: Callable[[Part], Bench], part: Part) -> None:
    bench = board(part)
    bench.run(20)
    for body in ("CONF:LOCK", "OUTP ON"):
        bench.ok(body)
    for relay in range(1, len(part.relays) + 1):
        bench.ok(f"ROUT:CLOS (@{relay})")
        assert bench.closed() == {0, relay}
        bench.ok("ROUT:OPEN:ALL")
    for i in range(len(part.inputs)):
        seen = len(bench.events())
        bench.switch(i, bench.cycle, closed=True)
        bench.switch(i, bench.cycle + 40 * CYCLES_PER_MS, closed=False)
        bench.run(80)
        bench.ok("STAT?")
        assert [fields[3:] for fields in bench.events()[seen:]] == [[str(i + 1), "1"], [str(i + 1), "0"]]
    for i in range(part.analogs):
        bench.analog(i, 1_000 + 500 * i)
        assert abs(float(bench.ok(f"MEAS:VOLT? (@{i + 1})")) - 1 - 0.5 * i) < 0.01


@pytest.mark.parametrize("board_row", TABLE["board"], ids=lambda b: b["name"])
def test_no_pin_is_used_twice(board_row: dict[str, list[str]]) -> None:
    names = ("master", "light", "receive", "transmit")
    pins = [*board_row["relays"], *board_row["inputs"], *board_row["analogs"], *(str(board_row[n]) for n in names)]

    assert len(pins) == len(set(pins))


def test_every_mockup_fills_the_port_of_16() -> None:
    for plan in TABLE["mockup"]:
        assert len(plan["relays"]) == len(plan["inputs"]) == 16, plan["name"]
        assert len(plan["analogs"]) == 4


def test_every_command_is_specified_and_among_the_vectors() -> None:
    assert len(headers()) == 44
    in_vectors = {body.split()[0].upper() for body in VECTORS["commands"]}
    for header in headers():
        node = header.removesuffix("?").split(":")[-1]
        assert node in SPECIFICATION, header
        assert {short(header), header.upper()} & in_vectors, header


def test_every_error_number_is_one_of_the_vectors_or_explained() -> None:
    source = (FIRMWARE / "core/status.c").read_text(encoding="utf-8")
    words = re.findall(r'\{SC_\w+, "([^"]+)"\}', source)
    shown = str(VECTORS["dialogues"])

    assert len(words) == 17
    for word in words:
        assert word in shown or word in ("Hardware missing", "Communication error", "Input buffer overrun"), word


def test_every_frame_printed_in_the_documents_is_a_good_one() -> None:
    texts = [SPECIFICATION, (FIRMWARE / "core/frame.h").read_text(encoding="utf-8")]
    frames = [f for text in texts for f in re.findall(r"[><!][0-9A-F]{2} [0-9A-F]{2} [ -_a-z]+? [0-9A-F]{4}\b", text)]

    assert len(frames) == 3
    assert all(opened(raw(frame)) is not None for frame in frames)
