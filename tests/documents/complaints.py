"""Documents that are wrong, and exactly what is said of each; lines and columns are counted by hand.

A text begins in line 1 after the opening quotes. Every message of the documents room occurs here at least once; a test
keeps it so.
"""

from __future__ import annotations

from typing import Any, NamedTuple

from stagecall.model.equipment import Equipment
from stagecall.model.fault import Fault
from stagecall.model.kit import Kit
from stagecall.model.sequence import Block, Monitor, Sequence
from stagecall.model.system import System


class Case(NamedTuple):
    """A wrong document. ``said`` holds ``line:column: text`` of each complaint."""

    title: str
    kind: Any
    text: str
    said: tuple[str, ...]


_SEQUENCE = """\
sequence: one
title: One
purpose: Something
group: cool
"""
_STEP = (
    _SEQUENCE
    + """\
steps:
  - step: First
    call: [Y1]
"""
)
_FIRST = (
    _STEP
    + """\
    expect:
"""
)
_MONITOR = """\
monitor: one
title: One
purpose: Something
expect:
"""
_SYSTEM = """\
system: one
title: One
scenario: Something
energy: {fuel: none, compressor: none, elements: none}
control: {terminals: [R, C, Y]}
equipment:
  condenser: {profile: unit}
"""
_FAULT = """\
fault: one
title: One
shows: Something
teaches: Something
target: unit.part
"""

YAML = (
    Case("an empty file", Sequence, "", ("1:1: the file is empty",)),
    Case("only a remark", Sequence, "# nothing\n", ("1:1: the file is empty",)),
    Case(
        "a board whose channels do not agree",
        Kit,
        """\
kit: one
title: One
board:
  calls: {Y1: 1, W1: 1, G: 17}
  opens: {limit: 2}
  power: 2
  inputs: {wire_Y1: 1, blower: 1, supply_air: 3, outdoor_fan: 4}
  probes:
    return_air: {analog: 1, beta: 3950}
    outdoor_air: {analog: 1, beta: 3950}
  compressor: [Y2]
  readback: {Y1: stop, W1: tell, W2: stop}
  exclusive: [[Y1, W1], [Y1, E]]
points:
  wire_Y1: {sensed: call_volts}
  blower: {sensed: amps}
  return_air: {sensed: air_temp}
  supply_air: {sensed: air_temp}
""",
        (
            "4:22: relay 1 is that of calls Y1 already",
            "4:28: no board has relay 17",
            "6:10: relay 2 is that of opens limit already",
            "7:32: input 1 is that of inputs wire_Y1 already",
            "7:47: an input is live or dead, supply_air is a quantity: give it a probe",
            "7:63: 'points' has no row for outdoor_fan",
            "10:5: 'points' has no row for outdoor_air",
            "10:27: analog input 1 is that of probes return_air already",
            "11:16: no relay of this board makes Y2",
            "12:28: no input sees wire_W1",
            "12:38: no relay of this board makes W2",
            "12:38: no input sees wire_W2",
            "13:30: no relay of this board makes E",
        ),
    ),
    Case(
        "a kit that only looks on, with relays",
        Kit,
        "kit: one\ntitle: One\nmakes_calls: false\nboard:\n  calls: {G: 1}\npoints: {}\n",
        ("4:1: a kit that makes no calls has no relays here",),
    ),
    Case("a list never closed", Kit, "kit: [one\n", ("2:1: this is not YAML: did not find expected ',' or ']'",)),
    Case(
        "a key without its colon",
        Kit,
        "kit: one\ntitle\npoints: {}\n",
        ("3:1: this is not YAML: could not find expected ':'",),
    ),
    Case(
        "a duplicate key",
        Kit,
        "kit: one\ntitle: One\nkit: two\npoints: {}\n",
        ("3:1: 'kit' stands here twice, first in line 1",),
    ),
    Case(
        "an anchor and an alias",
        Kit,
        "kit: &name one\ntitle: *name\npoints: {}\n",
        (
            "1:6: '&name': anchors are not used here, write it out where it is wanted",
            "2:8: '*name': aliases are not used here, write it out",
        ),
    ),
    Case(
        "a merge key",
        Kit,
        "kit: one\ntitle: One\npoints: {}\n<<: {title: Two}\n",
        ("4:1: '<<': merge keys are not used here, write it out",),
    ),
    Case(
        "tags",
        Kit,
        "kit: !!str one\ntitle: One\npoints: !points {}\n",
        (
            "1:6: 'tag:yaml.org,2002:str': tags are not used here, every value has its type already",
            "3:9: '!points': tags are not used here, every value has its type already",
        ),
    ),
    Case(
        "a list as a key",
        Kit,
        "kit: one\ntitle: One\npoints: {}\n[a, b]: c\n",
        ("4:1: a key is a single word, this is a list or a table",),
    ),
    Case(
        "an alias as a key",
        Kit,
        "kit: one\ntitle: One\npoints: {}\n*name : c\n",
        ("4:1: '*name': aliases are not used here, write it out",),
    ),
    Case(
        "two documents in one file",
        Kit,
        "kit: one\ntitle: One\npoints: {}\n---\nkit: two\n",
        ("4:1: a second document begins here; a file holds one",),
    ),
    Case(
        "33 lists inside one another",
        Kit,
        "kit: " + "[" * 33 + "]" * 33,
        ("1:37: more than 32 lists and tables inside one another",),
    ),
    Case(
        "a character that cannot be printed",
        Kit,
        "kit: one\ntitle: a\x07b\n",
        ("2:9: character U+0007 cannot be printed",),
    ),
    Case("a list where a document belongs", Kit, "- kit: one\n", ("1:1: expected keys and values, found a list",)),
    Case("a single word", Kit, "kit\n", ("1:1: expected keys and values, found 'kit'",)),
)

WORDS_AND_TYPES = (
    Case(
        "unknown and missing keys, all at once",
        Kit,
        "kitt: one\ntitle: One\n",
        (
            "1:1: 'kitt' is not a key here; did you mean 'kit'?",
            "1:1: 'kit' is missing here",
            "1:1: 'points' is missing here",
        ),
    ),
    Case(
        "a key like no other, where the known ones are few",
        Kit,
        "kit: one\ntitle: One\npoints: {}\nzzzzzz: 1\n",
        ("4:1: 'zzzzzz' is not a key here; known: board, call_width, kit, makes_calls, points, title",),
    ),
    Case(
        "a word that is not one of its field's",
        Sequence,
        "sequence: one\ntitle: One\npurpose: Something\ngroup: colo\nsteps:\n  - step: First\n",
        ("4:8: 'colo' is not a word for 'group'; did you mean 'cool'?",),
    ),
    Case(
        "a list where a word belongs",
        Sequence,
        "sequence: one\ntitle: One\npurpose: Something\ngroup: [cool]\nsteps:\n  - step: First\n",
        (
            (
                "4:8: expected one of cool, heat, fan, reversing, aux, accessory, protection, power, acceptance, "
                "found a list"
            ),
        ),
    ),
    Case(
        "nothing where a text, a list, a table belong",
        Equipment,
        "equipment: one\ntitle: One\nwhat: furnace\nterminals:\nparts:\nwiring: []\nswitches: {limit: [a]}\n",
        (
            "4:11: expected a list, found nothing",
            "5:7: expected keys and values, found nothing",
            "7:19: expected a text, found a list",
        ),
    ),
    Case(
        "a pair of three, and a kind of equipment that is none",
        Equipment,
        "equipment: one\ntitle: One\nwhat: stove\nterminals: [R]\nparts: {}\nwiring: [[a, b, c]]\n",
        (
            (
                "3:7: 'stove' is not a word for 'what'; known: accessory, air_handler, boiler, condensing_unit, "
                "furnace, heat_pump, oil_furnace, zone_panel"
            ),
            "6:10: expected a list of 2, found a list",
        ),
    ),
    Case(
        "plain values of the wrong type",
        System,
        _SYSTEM
        + """\
conductors:
  - {name: y, from: control.Y1, to: condenser.Y, gauge: thick, length: 5 V}
  - {name: z, from: control.C, to: condenser.C, gauge: 18 AWG, length: 50 f}
  - {name: [w], from: control.R, to: condenser.R, length: {}}
""",
        (
            "9:57: expected a whole number, found 'thick'",
            "9:72: '5 V' is not a length (such as 50 ft)",
            "10:56: expected a whole number, found '18 AWG'",
            (
                "10:72: 'f' in '50 f' is not a unit; known units: ms, s, min, h, V, mV, A, mA, µA, uA, ohm, kohm, Ω, "
                "°F, F, °C, C, W, kW, Btu/h, kBtu/h, ton, VA, Pa, kPa, in.w.c., psi, m, ft, CFM, m³/s, %, kBtu/°F, "
                "Btu/h °F, J/K, W/K, µF, uF"
            ),
            "11:12: expected a text, found a list",
            "11:59: expected a length (such as 50 ft), found keys and values",
        ),
    ),
    Case(
        "a point sensed by no means there is",
        Equipment,
        "equipment: one\ntitle: One\nwhat: furnace\nterminals: [R]\nparts: {}\nwiring: []\n"
        "points: {blower: {amp: R}}\n",
        ("7:19: 'amp' is not a word for 'blower'; did you mean 'amps'?",),
    ),
    Case(
        "a yes or no that is neither, and a time that is none",
        Kit,
        "kit: one\ntitle: One\nmakes_calls: perhaps\ncall_width: soon\npoints: {}\n",
        ("3:14: expected true or false, found 'perhaps'", "4:13: 'soon' is not a number with a unit"),
    ),
    Case(
        "ranges that are none",
        Kit,
        """\
kit: one
title: One
points:
  blower: {sensed: amps, on: .. s, off: 9..2 s, blind: 0.5}
  inducer: {sensed: amps, on: quick, off: 100 ms ± 5 V}
  flame: {sensed: flames}
  wire_Y1: {sensed: call_volts, on: 2 s..3 min}
""",
        (
            "4:30: '.. s' has neither a lower nor an upper end",
            "4:41: '9..2 s' has its ends the wrong way round",
            "4:56: '0.5' is not a time (such as 5 s, 3 min, 1 h)",
            "5:31: 'quick' is not a range (such as ..6 s, 5 min.., 2..6 s, 300 s ± 10 %)",
            "5:43: '100 ms ± 5 V': write the tolerance in ms or in %",
            (
                "6:19: 'flames' is not a word for 'sensed'; known: air_temp, amps, call_volts, coil_volts, contact, "
                "flame_current, load_volts, person, pressure"
            ),
            "7:37: '2 s..3 min': write both ends in min",
        ),
    ),
    Case(
        "figures without measure",
        Kit,
        "kit: one\ntitle: One\npoints:\n  blower: {sensed: amps, on: 0..99999999999 s, lag: " + "9" * 61 + "}\n",
        (
            "4:30: '0..99999999999 s' is far too large",
            f"4:53: expected a quantity (such as 5 s), found '{'9' * 40}…'",
        ),
    ),
    Case(
        "points, switches, quantities, calls that are none",
        Sequence,
        """\
sequence: one
title: One
purpose: Something
group: cool
needs: {calls: [Y9, G], points: [compresor], switches: [blower], equipment: [furnance]}
conditions: {outdor_air: 65..115 °F, outdoor_air: 65..115 V, blower: 1..2 s}
steps:
  - step: First
    call: [X, R]
    open_switch: limmit
    set: {outdoor_air: warm}
    read: [supply]
    keep: 5 °F
""",
        (
            "5:17: 'Y9' is not a terminal that can be called; did you mean 'Y'?",
            "5:34: 'compresor' is not a point; did you mean 'compressor'?",
            "5:57: 'blower' is a point, but not a switch",
            "5:78: 'furnance' is not a kind of equipment; did you mean 'furnace'?",
            "6:14: 'outdor_air' is not a quantity that can be read; did you mean 'outdoor_air'?",
            "6:51: '65..115 V' is not a temperature (such as 70 °F)",
            "6:62: 'blower' has states, it is not a quantity that can be read",
            "9:12: 'X' is not a terminal that can be called",
            "9:15: 'R' is not a terminal that can be called",
            "10:18: 'limmit' is not a switch; did you mean 'limit'?",
            "11:24: 'warm' is not a number with a unit",
            "12:12: 'supply' is not a quantity that can be read; did you mean 'supply_air'?",
            "13:11: '5 °F' is not a time (such as 5 s, 3 min, 1 h)",
        ),
    ),
)

SHORT_FORMS = (
    Case(
        "conditions and anchors that are none",
        Sequence,
        _SEQUENCE
        + """\
starts: {compressor: idle, supply_air: on, fann: off, blower: [on]}
steps:
  - step: First
    lasts: {until: compressor}
    expect:
      - turns: {blower: on, inducer: on}
        within: ..5 s
      - turns: {limit: off}
        within: ..5 s
        since: start
      - turns: {blower: on}
        within: ..5 s
        since: {call: Y7, goes: down, at: once}
      - turns: {blower: on}
        within: ..5 s
        since: {power: cut}
      - turns: {blower: on}
        within: ..5 s
        since: {call: [Y1]}
      - turns: {blower: on}
        within: ..5 s
        since: {compressor: on, blower: on}
      - order: blower
      - never: [blower]
""",
        (
            "5:22: 'idle' is not a state of compressor; known: off, on",
            "5:28: 'supply_air' is a quantity, it has no states; write 'reads'",
            "5:44: 'fann' is not a point",
            "5:63: expected a state of blower (on, off), found a list",
            "8:20: expected {point: state} (such as {blower: on}), found 'compressor'",
            "10:16: expected {point: state} (such as {blower: on}), found keys and values",
            "12:24: 'off' is not a state of limit; known: closed, open",
            "14:16: expected step, {point: state}, {call: Y1}, {call: Y1, goes: off} or {power: on}, found 'start'",
            "17:23: 'Y7' is not a terminal that can be called; did you mean 'Y'?",
            "17:33: expected on or off, found 'down'",
            "17:39: 'at' is not a key here; known: call, goes",
            "20:24: expected on or off, found 'cut'",
            "23:23: expected a terminal (such as Y1), found a list",
            (
                "26:16: expected step, {point: state}, {call: Y1}, {call: Y1, goes: off} or {power: on}, "
                "found keys and values"
            ),
            "27:16: expected {point: state} (such as {blower: on}), or a list of them, found 'blower'",
            "28:17: expected {point: state} (such as {blower: on}), found 'blower'",
        ),
    ),
    Case(
        "lengths of a step",
        Sequence,
        _SEQUENCE
        + """\
steps:
  - step: First
    lasts: for ever
  - step: Second
    lasts: 5 V
  - step: Third
    lasts: {while: {blower: on}}
  - step: Fourth
    lasts: [5 s]
""",
        (
            "7:12: expected 'until expected', a time (such as 5 s) or {until: {point: state}}, found 'for ever'",
            "9:12: '5 V' is not a time (such as 5 s, 3 min, 1 h)",
            "11:12: expected 'until expected', a time (such as 5 s) or {until: {point: state}}, found keys and values",
            "13:12: expected 'until expected', a time (such as 5 s) or {until: {point: state}}, found a list",
        ),
    ),
    Case(
        "readings",
        Sequence,
        _FIRST
        + """\
      - reads: supply_air
      - reads: {compressor: 1..2 s}
      - reads: {supply_air: 90..120 V}
        at: noon
      - reads: {supply_air: 90..120 °F}
        at: after lunch
      - reads: {supply_air: 90..120 °F}
        within: 5 s
""",
        (
            "9:16: expected {quantity: range} (such as {supply_air: 90..120 °F}), found 'supply_air'",
            "10:17: 'compressor' has states, it is not a quantity that can be read",
            "11:29: '90..120 V' is not a temperature (such as 70 °F)",
            "12:13: expected 'at' as end, throughout or a time (such as after 5 min), found 'noon'",
            "14:13: 'lunch' is not a number with a unit",
            "16:9: 'within' is not a key here; known: applies_if, at, because, reads",
        ),
    ),
    Case(
        "the first key selects the form",
        Sequence,
        _FIRST
        + """\
      - within: ..5 s
        turns: {blower: on}
      - tunrs: {blower: on}
        within: ..5 s
      - turns
      - {}
  - call: [G]
    step: Second
""",
        (
            "10:9: 'turns' must come first here",
            "11:9: 'tunrs' is not a key that can come first here; did you mean 'turns'?",
            "13:9: expected keys and values, first one of turns, stays, order, never, reads, times, ask, found 'turns'",
            (
                "14:9: expected keys and values, first one of turns, stays, order, never, reads, times, ask, "
                "found keys and values"
            ),
            "16:5: 'step' must come first here",
        ),
    ),
)

WITHIN_A_FILE = (
    Case(
        "limits: unknown, unused, of two kinds, half moved, beyond their bounds",
        Sequence,
        """\
sequence: one
title: One
purpose: Something
group: cool
limits:
  start: {default: ..5 s, source: somebody}
  idle: {default: ..5 s, source: somebody}
  volts: {default: 1..2 s, source: somebody, never_below: 5 V}
  warm: {default: 90..120 °F, source: somebody, maker_data: prepurge}
  rest: {default: 100..400 s, source: somebody, allow: 5 %, never_below: 170 s, never_above: 6 min}
steps:
  - step: First
    expect:
      - turns: {blower: on}
        within: strat
        usual: start
      - times: {blower: on}
        count: start
      - reads: {control_voltage: volts}
      - reads: {supply_air: warm}
      - turns: {blower: off}
        within: rest
""",
        (
            "7:3: the limit 'idle' is not used",
            "8:20: '1..2 s' is not a voltage (such as 24 V)",
            "9:61: 'maker_data' needs 'allow' (such as allow: 10 %)",
            "10:19: '100..400 s' begins below 'never_below: 170 s'",
            "10:19: '100..400 s' ends above 'never_above: 6 min'",
            "10:56: 'allow' belongs to 'maker_data', which is missing here",
            "15:17: 'strat' is not a limit of this file; did you mean 'start'?",
            "18:16: 'start' is a limit of another kind elsewhere in this file",
        ),
    ),
    Case(
        "expectations that contradict themselves",
        Block,
        """\
block: one
title: One
steps:
  - step: First
    lasts: 5 min
    expect:
      - turns: {blower: on}
        within: ..5 s
        since: {compressor: on}
        each: {inducer: on}
      - stays: {blower: on}
        for: ..5 s
        until: {inducer: off}
      - order: [{inducer: on}]
      - order: [{inducer: on}, {blower: on}, {flame: on}]
        gaps: [..5 s]
""",
        (
            "10:9: either 'since' or 'each', not both",
            "12:14: 'for' needs a lower end (such as 3 min or 3 min..)",
            "13:9: either 'for' or 'until', not both",
            "14:9: an order has at least two edges",
            "16:9: 3 edges have 2 gaps between them",
        ),
    ),
    Case(
        "steps that could not end",
        Sequence,
        _SEQUENCE
        + """\
limits:
  slow: {default: 3 min.., source: somebody}
steps:
  - step: First
    lasts: {until: {compressor: on}}
    expect:
      - turns: {blower: on}
        within: ..5 s
  - step: Second
    lasts: {until: {compressor: off}}
    expect:
      - turns: {compressor: off}
        within: slow
  - step: Third
    expect:
      - turns: {compressor: on}
        within: slow
""",
        (
            "9:5: nothing here expects compressor on; add 'turns: {compressor: on}' with 'within'",
            "14:5: 'within' of compressor off has no upper end, so this step might never end",
            "21:17: no upper end, so the step would not wait for it; give it one, or the step a length (lasts: 5 min)",
        ),
    ),
    Case("no step", Sequence, _SEQUENCE + "steps: []\n", ("5:1: no step stands here",)),
    Case(
        "a monitor that counts from steps",
        Monitor,
        _MONITOR
        + """\
  - turns: {blower: on}
    within: ..5 s
  - stays: {blower: on}
    for: 5 s
  - reads: {supply_air: 90..120 °F}
  - ask: Does it smell?
""",
        (
            "5:5: a monitor has no steps to count from; write 'each: {point: state}'",
            "7:5: a monitor has no steps to count from; write 'each: {point: state}'",
            "9:5: a monitor has no steps to count from; write 'at: throughout'",
            "10:10: a monitor asks nobody",
        ),
    ),
    Case(
        "modes of a control that has not the terminals",
        System,
        _SYSTEM.replace("terminals: [R, C, Y]", "terminals: [R, C, Y], valve: O, aux: [W1, Y], emergency: [E]")
        + "conductors: []\n",
        (
            "5:40: 'O' is not a terminal of this control; known: C, R, Y",
            "5:43: 'W1' is not a terminal of this control; known: C, R, Y",
            "5:57: 'E' is not a terminal of this control; known: C, R, Y",
        ),
    ),
    Case(
        "conductors to nowhere",
        System,
        _SYSTEM
        + """\
conductors:
  - {name: y, from: control.Y1, to: condensr.Y}
  - {name: y, from: control.C, to: condenser}
  - {name: g, from: control.G, to: condenser.C}
""",
        (
            "9:37: 'condensr' is not equipment of this system; did you mean 'condenser'?",
            "10:12: a conductor named 'y' stands here twice",
            "10:36: 'condenser' is not a screw (such as control.Y1 or furnace.Y)",
            "11:21: 'G' is not a terminal of this control; known: C, R, Y",
        ),
    ),
    Case(
        "a figure that moves nothing",
        System,
        _SYSTEM + "conductors: []\nmaker_data:\n  compressor_minimum_of: {value: 5 min, source: plate}\n",
        (
            (
                "10:3: 'compressor_minimum_of' is not a figure that anything here is moved by; did you mean "
                "'compressor_minimum_off'?"
            ),
        ),
    ),
    Case(
        "a control with an unknown terminal",
        System,
        _SYSTEM.replace("[R, C, Y]", "[R, C, Y, Q]") + "conductors: []\n",
        ("5:32: 'Q' is not a terminal",),
    ),
    Case(
        "wires to parts that are not there",
        Equipment,
        """\
equipment: one
title: One
what: furnace
terminals: [R, Y]
parts: {board: {kind: board}}
wiring: [[R, bord.R], [Y, board.Y], [L1, board.L1]]
points:
  blower: {amps: blower, load_volts: board.L1}
switches: {limit: limit}
energises:
  Y: [blower, compressor]
""",
        (
            "6:14: 'bord' is not a part or a screw of this machine; did you mean 'board'?",
            "6:38: 'L1' is not a part or a screw of this machine; known: R, Y, board",
            "8:18: 'blower' is not a part or a screw of this machine; known: R, Y, board",
            "9:19: 'limit' is not a part or a screw of this machine; known: R, Y, board",
            "11:15: 'compressor' is not a point of this machine; known: blower",
        ),
    ),
    Case(
        "a fault that is neither of a part nor of a wire, and that nobody catches",
        Fault,
        _FAULT
        + """\
caught_by:
  - {system: one, kit: full}
  - {system: one, kit: full, sequences: [one], unseen: too small}
""",
        (
            "1:8: a fault has 'part_kind' with 'change', or 'wire', or 'jumper', or others that come 'together'",
            "7:5: either 'sequences' and 'monitors' that catch it, or 'unseen' that says why none can",
            "8:5: either 'sequences' and 'monitors' that catch it, or 'unseen' that says why none can",
        ),
    ),
    Case(
        "a fault that changes nothing",
        Fault,
        _FAULT + "part_kind: contactor\n",
        ("6:12: nothing is changed: a fault of a part has 'change', 'severity' or both",),
    ),
    Case(
        "a severity outside its own range",
        Fault,
        _FAULT + "part_kind: contactor\nseverity: {of: operate_time, typical: 3 s, range: 5..10 s}\n",
        ("7:39: '3 s' does not lie in 'range: 5..10 s'",),
    ),
    Case(
        "a severity in another unit than its range",
        Fault,
        _FAULT + "part_kind: contactor\nseverity: {of: operate_time, typical: 6000 ms, range: 5..10 s}\n",
        ("7:39: '6000 ms' does not lie in 'range: 5..10 s'",),
    ),
    Case(
        "a jumper that lies between one screw and anything",
        Fault,
        _FAULT.replace("unit.part", "any")
        + """\
jumper: control.Rh
caught_by:
  - {system: one, kit: full, sequences: [one]}
""",
        ("1:8: a jumper lies between two screws: 'target' is the one, 'jumper' the other",),
    ),
    Case(
        "wrong values and wrong words in one go",
        Sequence,
        """\
sequence: one
title: One
purpose: Something
group: colo
limits:
  start: {default: soon, source: somebody}
steps:
  - step: First
    expect:
      - turns: {blower: on}
        within: start
      - turns: {blowr: on}
        within: strat
      - turns: {blower: off}
        within: stat
""",
        (
            "4:8: 'colo' is not a word for 'group'; did you mean 'cool'?",
            "6:20: 'soon' is not a range (such as ..6 s, 5 min.., 2..6 s, 300 s ± 10 %)",
            "12:17: 'blowr' is not a point; did you mean 'blower'?",
        ),
    ),
)

CASES = (*YAML, *WORDS_AND_TYPES, *SHORT_FORMS, *WITHIN_A_FILE)
