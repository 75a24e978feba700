"""Draws the bench from wiring.toml: circuits and terminals as SVG, tables as Markdown. Standard library only.

Usage: python3 draw.py [FOLDER]   (the folder of this file where none is given)
"""

from __future__ import annotations

import sys
import tomllib
from pathlib import Path
from typing import Any

from sheet import Sheet

HERE = Path(__file__).parent
Table = dict[str, Any]


def _call_path(s: Sheet, y: float) -> None:
    """R from the transformer to a call wire."""
    s.dot(40, y, terminal=True)
    s.text(40, y - 14, "R in", anchor="middle")
    s.line((45, y), (90, y))
    s.contact(90, y, "S1 hand stop", normally_closed=True)
    s.line((150, y), (200, y))
    s.fuse(200, y, "F1 3 A")
    s.line((260, y), (310, y))
    s.contact(310, y, "KM master")
    s.line((370, y), (430, y))
    s.dot(430, y, terminal=True)
    s.text(430, y - 14, "R out", anchor="middle")
    s.line((435, y), (520, y), dashed=True)
    s.text(478, y + 20, "bridge at the terminals", anchor="middle", size=11)
    s.dot(525, y, terminal=True)
    s.text(525, y - 14, "Kn a", anchor="middle")
    s.line((530, y), (580, y))
    s.contact(580, y, "Kn call relay")
    s.line((640, y), (695, y))
    s.dot(700, y, terminal=True)
    s.text(700, y - 14, "Kn b", anchor="middle")
    s.line((705, y), (775, y), dashed=True)
    s.text(782, y + 5, "wire of a call")
    s.text(
        40,
        140,
        "A second transformer's Rc goes the same way through the second poles of S1 and KM and through F2.",
        size=12,
    )
    s.line((20, 165), (880, 165), dashed=True, colour="#888")
    s.text(870, 160, "24 VAC, class 2", anchor="end", size=11)
    s.text(870, 181, "5 V", anchor="end", size=11)


def _driver(s: Sheet) -> None:
    """From a pin of the processor to a coil."""
    s.text(40, 245, "pin of the processor")
    s.dot(190, 240, terminal=True)
    s.line((195, 240), (330, 240))
    s.dot(270, 240)
    s.resistor(270, 240, "10 k", upright=True)
    s.ground(270, 300)
    s.text(150, 330, "holds the gate low while pins float", size=11)
    s.box(330, 215, 60, 50)
    s.text(360, 245, "Q", anchor="middle")
    s.line((390, 255), (430, 255), (430, 300))
    s.ground(430, 300)
    s.line((390, 225), (560, 225))
    s.box(560, 205, 60, 40)
    s.text(590, 230, "coil Kn", anchor="middle")
    s.line((620, 225), (700, 225))
    s.dot(540, 225)
    s.line((540, 225), (540, 280), (573, 280))
    s.line((573, 272), (573, 288), (589, 280), (573, 272))
    s.line((589, 272), (589, 288))
    s.line((589, 280), (640, 280), (640, 225))
    s.dot(640, 225)
    s.fuse(700, 225, "F3 2 A")
    s.line((760, 225), (800, 225))
    s.dot(805, 225, terminal=True)
    s.text(815, 230, "5 V, 2 A (A1)")


def relay_circuit() -> str:
    """R from the transformer to a call wire, and what drives the relay."""
    s = Sheet(900, 430, "One call: R through hand stop, fuse and master to a dry pair")
    _call_path(s, 90)
    _driver(s)
    s.text(
        40,
        380,
        "No conductor of a pair touches another pair or the 5 V side: 4 kV in the relay, 3 mm on the board.",
        size=12,
    )
    s.text(40, 402, "Drawn without supply: every call relay and the master are open.", size=12)
    return s.svg()


def input_circuit() -> str:
    """One input, and the two ways to use it."""
    s = Sheet(900, 480, "One input: its own pair, from a point to that point's own common")
    y = 100
    s.dot(60, y, terminal=True)
    s.text(60, y - 14, "In a", anchor="middle")
    s.line((65, y), (110, y))
    s.resistor(110, y, "R1 5.6 k 1 W")
    s.line((170, y), (380, y))
    s.dot(250, y)
    s.line((250, y), (250, y + 5))
    s.resistor(250, y + 5, "R2 1 k", upright=True)
    s.line((250, y + 65), (250, y + 70))
    s.dot(250, y + 70)
    for x, down in ((330, True), (380, False)):
        s.line((x, y), (x, y + 15))
        s.diode(x, y + 15, down=down)
        s.line((x, y + 55), (x, y + 70))
    s.dot(330, y)
    s.dot(330, y + 70)
    s.dot(60, y + 70, terminal=True)
    s.text(60, y + 95, "In b", anchor="middle")
    s.line((65, y + 70), (380, y + 70))
    s.box(310, y - 20, 260, 120, dashed=True)
    s.text(440, y - 27, "Un: one package for each input", anchor="middle", size=11)
    s.text(430, y + 40, "light", anchor="middle", size=11)
    s.line((500, y + 15), (500, y + 55))
    s.line((500, y + 25), (530, y + 5), (530, y - 5))
    s.line((500, y + 45), (530, y + 65), (530, y + 80))
    s.line((530, y - 5), (530, y - 40), (640, y - 40))
    s.dot(640, y - 40)
    s.line((640, y - 40), (740, y - 40))
    s.dot(745, y - 40, terminal=True)
    s.text(757, y - 35, "pin of the processor")
    s.resistor(640, y - 40, "R3 10 k to 5 V", upright=True)
    s.text(640, y + 36, "5 V", anchor="middle", size=11)
    s.line((530, y + 80), (530, y + 110))
    s.ground(530, y + 110)
    s.text(
        60, 260, "Threshold about 9 V (7.3 to 10.7 V). 4.1 mA at 24 V: a wire that is only coupled reads dead.", size=12
    )
    s.line((20, 285), (880, 285), dashed=True, colour="#888")

    s.text(40, 320, "Right", bold=True)
    s.text(40, 342, "coil terminal  ->  In a", size=12)
    s.text(40, 362, "C of the same transformer  ->  In b", size=12)
    s.text(40, 392, "line-voltage device: current switch around its", size=12)
    s.text(40, 410, "insulated wire; 24 V -> dry contact -> In a, C -> In b", size=12)
    s.text(480, 320, "Wrong", bold=True, colour="#a00")
    s.text(480, 342, "In a and In b on the two sides of a switch:", size=12)
    s.text(480, 360, "it reads through the load, live when the switch is open", size=12)
    s.text(480, 390, "In b of two inputs tied together:", size=12)
    s.text(480, 408, "ties the commons of two transformers", size=12)
    s.text(480, 438, "anything at line voltage: never", size=12, colour="#a00")
    return s.svg()


def terminals(board: Table) -> str:
    """The two strips as they lie on the board, with the processor's pins."""
    relays, inputs, analogs = board["relays"], board["inputs"], board["analogs"]
    rows = max(len(relays), len(inputs))
    height = 150 + rows * 30 + (40 + 30 * ((len(analogs) + 1) // 2) if analogs else 0)
    s = Sheet(900, height, f"{board['title']}: terminals")
    s.text(
        20,
        54,
        f"{board['processor']}; firmware {board['firmware']}; host on {board['receive']} / {board['transmit']}",
        size=12,
    )
    s.text(60, 90, "Relays: dry pairs", bold=True)
    s.text(660, 90, "Inputs: isolated pairs", bold=True)
    for i, pin in enumerate(relays):
        y = 105 + 30 * i
        s.box(60, y, 60, 26, fill="#f4f4f4")
        s.box(120, y, 60, 26, fill="#f4f4f4")
        s.text(90, y + 18, f"K{i + 1} a", anchor="middle")
        s.text(150, y + 18, f"K{i + 1} b", anchor="middle")
        s.text(195, y + 18, f"relay {i + 1}: {pin}", size=12)
    for i, pin in enumerate(inputs):
        y = 105 + 30 * i
        s.box(720, y, 60, 26, fill="#f4f4f4")
        s.box(780, y, 60, 26, fill="#f4f4f4")
        s.text(750, y + 18, f"I{i + 1} a", anchor="middle")
        s.text(810, y + 18, f"I{i + 1} b", anchor="middle")
        s.text(705, y + 18, f"input {i + 1}: {pin}", size=12, anchor="end")
    for i, name in enumerate(("R in", "R out", "Rc in", "Rc out", "5 V in", "0 V")):
        y = 105 + 30 * i
        s.box(400, y, 90, 26, fill="#f4f4f4")
        s.text(445, y + 18, name, anchor="middle")
    s.text(400, 90, f"Supply; master: {board['master']}", bold=True)
    if analogs:
        top = 150 + rows * 30
        s.text(60, top - 8, "Analog inputs: probe to 5 V, other end here (10 k to 0 V on the board)", bold=True)
        for i, pin in enumerate(analogs):
            x, y = 60 + 400 * (i % 2), top + 30 * (i // 2)
            s.box(x, y, 60, 26, fill="#f4f4f4")
            s.text(x + 30, y + 18, f"A{i + 1}", anchor="middle")
            s.text(x + 75, y + 18, f"analog {i + 1}: {pin}", size=12)
    return s.svg()


def mockup(plan: Table) -> str:
    """What goes where for one usual mockup."""
    s = Sheet(900, 120 + 26 * 16 + 70, f"16-input port on a mockup: {plan['name']}")
    s.text(60, 70, "Relay makes (or breaks)", bold=True)
    s.text(460, 70, "Input sees", bold=True)
    for column, mark, words in ((60, "K", plan["relays"]), (460, "I", plan["inputs"])):
        for i, what in enumerate(words):
            y = 85 + 26 * i
            s.box(column, y, 46, 22, fill="#f4f4f4")
            s.text(column + 23, y + 16, f"{mark}{i + 1}", anchor="middle")
            s.line((column + 46, y + 11), (column + 70, y + 11), dashed=what == "-")
            s.text(column + 78, y + 16, "free" if what == "-" else what)
    y = 85 + 26 * 16 + 24
    s.text(60, y, "Analog: " + ", ".join(f"A{i + 1} {w}" for i, w in enumerate(plan["analogs"]) if w != "-"))
    s.text(
        60,
        y + 24,
        "A relay that breaks is wired into the mockup's own switch line and held closed; opening it opens the switch.",
        size=12,
    )
    return s.svg()


def _markdown(head: tuple[str, ...], rows: list[tuple[str, ...]]) -> str:
    lines = ["| " + " | ".join(row) + " |" for row in (head, ("---",) * len(head), *rows)]
    return "\n".join(lines) + "\n"


def _pins(board: Table) -> str:
    rows = [
        (f"relay {i + 1}", pin, "output, high closes; 10 kilohm to ground") for i, pin in enumerate(board["relays"])
    ]
    rows += [("master relay", board["master"], "output, high closes; 10 kilohm to ground")]
    rows += [
        (f"input {i + 1}", pin, "input, low while it conducts; 10 kilohm to 5 V")
        for i, pin in enumerate(board["inputs"])
    ]
    rows += [(f"analog {i + 1}", pin, "0 to 5 V") for i, pin in enumerate(board["analogs"])]
    rows += [("light", board["light"], "lit while the master is closed; a boot loader may blink it")]
    rows += [("host", f"{board['receive']}, {board['transmit']}", "receives, sends")]
    return f"### {board['title']}\n\n{board['processor']}, firmware `{board['firmware']}`.\n\n" + _markdown(
        ("what", "pin", "how"), rows
    )


def tables(table: Table) -> str:
    """TABLES.md."""
    parts = [(p["mark"], p["what"], p["type"], p["why"]) for p in table["part"]]
    figures = [(f["what"], f["value"], f["source"]) for f in table["figure"]]
    failures = [(f["what"], f["relays"], f["master"], f["inputs"], f["told"]) for f in table["failure"]]
    return "\n".join((
        "# Tables of the bench\n\nMade by `draw.py` from `wiring.toml`; change that, not this.\n",
        "## Parts\n", _markdown(("mark", "part", "type", "why"), parts),
        "## Declared figures\n", _markdown(("what", "value", "where it comes from"), figures),
        "## When something fails\n", _markdown(("what", "call relays", "master", "inputs", "told by"), failures),
        "## Pins\n", "\n".join(_pins(board) for board in table["board"]),
    ))  # fmt: skip


def everything(table: Table) -> dict[str, str]:
    """Every file by name."""
    files = {"relay-circuit.svg": relay_circuit(), "input-circuit.svg": input_circuit(), "TABLES.md": tables(table)}
    files |= {f"terminals-{board['name']}.svg": terminals(board) for board in table["board"]}
    return files | {f"mockup-{plan['name'].replace(' ', '-')}.svg": mockup(plan) for plan in table["mockup"]}


def main(folder: Path) -> None:
    """Write every file into *folder*."""
    table = tomllib.loads((HERE / "wiring.toml").read_text(encoding="utf-8"))
    for name, text in everything(table).items():
        (folder / name).write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else HERE)
