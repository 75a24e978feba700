"""Sequences and systems that are right by themselves and wrong together, and what is said of them.

``files`` is a small library; the sequence is ``sequences/cool/one.yaml``, the system, where there is one, ``unit``.
"""

from __future__ import annotations

from typing import NamedTuple

UNIT = """\
equipment: unit
title: A unit
what: condensing_unit
terminals: [Y, C]
parts: {contactor: {kind: coil}, compressor: {kind: motor}, high: {kind: switch}}
wiring: []
points: {contactor: {coil_volts: contactor}, compressor: {amps: compressor}, high_pressure: {contact: high}}
switches: {high_pressure: high}
"""
SYSTEM = """\
system: here
title: One
scenario: Something
energy: {fuel: none, compressor: none, elements: none}
control: {terminals: [R, C, Y, G, W1, W2], jumpers: [[W1, W2]]}
equipment:
  outdoors: {profile: unit}
conductors:
  - {name: y, from: control.Y, to: outdoors.Y}
  - {name: c, from: control.C, to: outdoors.C}
"""
ONE = """\
sequence: one
title: One
purpose: Something
group: cool
"""
TIMED = (
    ONE
    + """\
limits:
  rest: {default: 170..480 s, source: the trade, maker_data: prepurge, allow: 10 %,
    never_below: 170 s, never_above: 8 min}
steps:
  - step: First
    call: [Y]
    expect:
      - turns: {compressor: on}
        within: rest
"""
)
BLOCK = """\
block: begin
title: Begin
limits:
  start: {default: ..10 s, source: the trade}
steps:
  - step: Begin
    call: [Y1]
    expect:
      - turns: {contactor: on}
        within: start
"""


class Resolution(NamedTuple):
    """``said`` holds ``file:line:column: text``, files without their folders."""

    title: str
    files: dict[str, str]
    said: tuple[str, ...]


def library(sequence: str, *, system: str = "", blocks: str = "") -> dict[str, str]:
    """The files of a small library."""
    files = {"sequences/cool/one.yaml": sequence, "sim/equipment/unit.yaml": UNIT}
    if system:
        files["sim/systems/here.yaml"] = system
    if blocks:
        files["sequences/blocks/begin.yaml"] = blocks
    return files


def _figure(value: str) -> str:
    return SYSTEM + f"maker_data:\n  prepurge: {{value: {value}, source: plate}}\n"


RESOLUTIONS = (
    Resolution(
        "modes that contradict themselves",
        library(
            ONE
            + """\
steps:
  - step: First
    call: [O]
    valve: cool
  - step: Second
    call: [Y1]
    emergency: true
  - step: Third
    aux: 4
  - step: Fourth
    aux: 1
    emergency: true
"""
        ),
        (
            "one.yaml:8:12: 'valve' stands beside O or B in 'call'; either the one or the other",
            "one.yaml:11:16: emergency heat runs without the compressor; take Y1 and Y2 out of 'call'",
            "one.yaml:13:10: 'aux' is a number of stages, 1 to 3; leave it out for none",
            "one.yaml:16:16: 'emergency' calls the auxiliary heat itself; either 'aux' or 'emergency'",
        ),
    ),
    Resolution(
        "windows that outlive their step",
        library(
            ONE
            + """\
steps:
  - step: First
    lasts: 5 s
    keep: 4 s
    power: on
    expect:
      - turns: {compressor: on}
        within: ..10 s
      - turns: {compressor: on}
        within: ..9 s
      - stays: {compressor: on}
        from: 5 s
        for: 5 s
      - reads: {control_voltage: 18..30 V}
        at: after 9500 ms
      - turns: {compressor: on}
        within: ..10 s
        since: {power: on}
      - turns: {compressor: on}
        within: ..10 s
        since: {contactor: on}
      - turns: {compressor: on}
        within: ..10 s
        each: {contactor: on}
"""
        ),
        (
            "one.yaml:11:9: its window ends 10 s after the step's begin, but the step lasts 9 s",
            "one.yaml:15:9: the watch ends 10 s after the step's begin, but the step lasts 9 s",
            "one.yaml:18:9: the reading ends 9.5 s after the step's begin, but the step lasts 9 s",
            "one.yaml:20:9: its window ends 10 s after the step's begin, but the step lasts 9 s",
        ),
    ),
    Resolution(
        "blocks, their limits and monitors that are not there",
        library(
            ONE
            + """\
monitors: [wach]
steps:
  - use: beginn
  - use: begin
    limits: {strat: ..3 s, start: 3 V}
""",
            blocks=BLOCK,
        ),
        (
            "one.yaml:5:12: 'wach' is not a monitor of the library; known: ",
            "one.yaml:7:10: no block is called 'beginn'; did you mean 'begin'?",
            "one.yaml:9:21: 'strat' is not a limit of the block 'begin'; did you mean 'start'?",
            "one.yaml:9:35: '3 V' is not a time (such as 5 s, 3 min, 1 h)",
        ),
    ),
    Resolution(
        "a figure below what its limit may ever be",
        library(TIMED, system=_figure("2 min")),
        ("here.yaml:12:21: 2 min lies below what the limit 'rest' may ever be (170 s)",),
    ),
    Resolution(
        "a figure above what its limit may ever be",
        library(TIMED, system=_figure("10 min")),
        ("here.yaml:12:21: 10 min lies above what the limit 'rest' may ever be (8 min)",),
    ),
    Resolution(
        "a tolerance of another kind",
        library(TIMED, system=_figure("5 min, tolerance: 1 V")),
        ("here.yaml:12:39: '1 V' is not a time (such as 5 s, 3 min, 1 h)",),
    ),
    Resolution(
        "a figure of another kind",
        library(TIMED, system=_figure("5 V")),
        ("here.yaml:12:21: '5 V' is not a time (such as 5 s, 3 min, 1 h)",),
    ),
)
