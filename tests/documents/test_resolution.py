from __future__ import annotations

from pathlib import Path

import msgspec
import pytest
from resolutions import BLOCK, ONE, RESOLUTIONS, SYSTEM, TIMED, Resolution, library

from stagecall.documents import Library, resolve_monitor, resolve_sequence, words
from stagecall.errors import DocumentError
from stagecall.model import plan
from stagecall.units import Range

_CONTACTOR = "      - turns: {contactor: on}\n        within: ..10 s\n"
_ENERGY = "energy: {fuel: none, compressor: none, elements: none}\n"


def written(folder: Path, files: dict[str, str]) -> Library:
    for name, text in files.items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_text(text, encoding="utf-8")
    return Library(folder)


def resolved(folder: Path, files: dict[str, str], surroundings: dict[str, float] | None = None) -> plan.Sequence:
    shelf = written(folder, files)
    if "sim/systems/here.yaml" not in files:
        return resolve_sequence(shelf.load("sequence", "one"), None, {}, shelf)
    system = shelf.load("system", "here")
    profiles = shelf.profiles(system.document)
    return resolve_sequence(shelf.load("sequence", "one"), system, profiles, shelf, surroundings=surroundings)


def steps(text: str) -> dict[str, str]:
    return library(ONE + "steps:\n" + text, system=SYSTEM)


def timed(figure: str) -> dict[str, str]:
    return library(TIMED, system=SYSTEM + f"maker_data:\n  prepurge: {{{figure}, source: plate}}\n")


@pytest.mark.parametrize("case", RESOLUTIONS, ids=[case.title for case in RESOLUTIONS])
def test_what_does_not_fit_together_is_said_at_its_place_in_its_file(case: Resolution, tmp_path: Path) -> None:
    with pytest.raises(DocumentError) as caught:
        resolved(tmp_path, case.files)

    said = sorted(
        (
            complaint.line,
            complaint.column,
            f"{Path(complaint.file).name}:{complaint.line}:{complaint.column}: {complaint.text}",
        )
        for complaint in caught.value.complaints
    )
    assert tuple(line for _, _, line in said) == case.said


def test_a_limit_without_a_figure_stays_at_its_default(tmp_path: Path) -> None:
    limit = resolved(tmp_path, library(TIMED, system=SYSTEM)).limits["rest"]

    assert limit == plan.ResolvedLimit(name="rest", range=Range(170_000, 480_000), source="the trade")


@pytest.mark.parametrize(
    ("figure", "low", "high", "note"),
    [
        ("value: 300 s", 270_000, 330_000, ""),
        ("value: 5 min, tolerance: 100 s", 190_000, 410_000, ""),
        ("value: 5 min, tolerance: 5 %", 270_000, 330_000, ""),
        ("value: 170 s", 170_000, 187_000, "never below 2:50 min"),
        ("value: 8 min", 432_000, 480_000, "never above 8 min"),
        ("value: 5 min, tolerance: 4 min", 170_000, 480_000, "never below 2:50 min, never above 8 min"),
    ],
)
def test_a_figure_moves_a_limit_by_what_is_allowed_within_its_hard_bounds(
    tmp_path: Path, figure: str, low: int, high: int, note: str
) -> None:
    limit = resolved(tmp_path, timed(figure)).limits["rest"]

    assert limit == plan.ResolvedLimit(
        name="rest", range=Range(low, high), source="plate", origin="maker data", note=note
    )


def test_an_end_that_the_default_leaves_open_stays_open(tmp_path: Path) -> None:
    files = timed("value: 300 s")
    files["sequences/cool/one.yaml"] = TIMED.replace("170..480 s", "..480 s")

    assert resolved(tmp_path, files).limits["rest"].range == Range(None, 330_000)


def test_a_temperature_moves_by_a_difference(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(words, "FIGURES", ("warm",))
    sequence = """\
limits:
  warm: {default: 90..140 °F, source: the trade, maker_data: warm, allow: 18 °F}
steps:
  - step: First
    lasts: 1 min
    expect:
      - reads: {supply_air: warm}
"""
    system = SYSTEM + "maker_data:\n  warm: {value: 122 °F, source: plate}\n"

    limit = resolved(tmp_path, library(ONE + sequence, system=system)).limits["warm"]

    assert (limit.kind, limit.range.low, limit.range.high) == ("temperature", pytest.approx(40), pytest.approx(60))


def test_a_block_is_put_in_with_limits_overridden_by_name(tmp_path: Path) -> None:
    sequence = "steps:\n  - use: begin\n  - use: begin\n    limits: {start: ..3 s}\n  - step: Go on\n"

    plan_ = resolved(tmp_path, library(ONE + sequence, system=SYSTEM, blocks=BLOCK))

    first, second, last = plan_.steps
    assert [(step.slug, step.calls) for step in plan_.steps] == [
        ("begin", ("Y1",)),
        ("begin-2", ("Y1",)),
        ("go-on", ("Y1",)),
    ]
    assert first.expect[0].within == plan.ResolvedLimit(name="start", range=Range(None, 10_000), source="the trade")
    assert second.expect[0].within.range == Range(None, 3_000)
    assert second.expect[0].within.origin == "override"
    assert last.expect == ()


def test_calls_are_complete_and_carried_on_until_stated_anew(tmp_path: Path) -> None:
    text = "  - step: A\n  - step: B\n    call: [Y, Y1]\n  - step: C\n  - step: D\n    call: []\n"

    assert [step.calls for step in resolved(tmp_path, steps(text)).steps] == [(), ("Y1",), ("Y1",), ()]


def test_ids_are_the_steps_slug_and_an_ordinal(tmp_path: Path) -> None:
    text = "  - step: Time the minimum off!\n    expect:\n" + _CONTACTOR * 2 + "  - step: ℃\n    expect:\n" + _CONTACTOR

    made = resolved(tmp_path, steps(text))

    ids = [form.id for step in made.steps for form in step.expect]
    assert ids == ["time-the-minimum-off.1", "time-the-minimum-off.2", "step.1"]


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("  - step: A\n    call: [G]\n", "G not wired here"),
        ("  - step: A\n    call: [W2]\n", "W2 not wired here"),
        ("  - step: A\n    open_switch: limit\n", "no limit here that can be opened"),
        ("  - step: A\n    restore: limit\n", "no limit here that can be opened"),
        ("  - step: A\n    open_switch: high_pressure\n", ""),
        (
            (
                "  - step: A\n    lasts: {until: {blower: on}}\n    expect:\n      - turns: {blower: on}\n"
                "        within: ..5 s\n"
            ),
            "no blower here",
        ),
    ],
)
def test_a_step_that_asks_for_what_is_not_here_does_not_apply(tmp_path: Path, text: str, why: str) -> None:
    made = resolved(tmp_path, steps(text + "  - step: B\n    call: [Y1]\n"))

    assert (made.steps[0].not_applicable, made.steps[1].not_applicable, made.not_applicable) == (why, "", "")


def test_a_sequence_of_which_no_step_applies_does_not_apply(tmp_path: Path) -> None:
    assert resolved(tmp_path, steps("  - step: A\n    call: [G]\n")).not_applicable == "G not wired here"


def test_a_jumpered_terminal_is_wired_where_its_neighbour_is(tmp_path: Path) -> None:
    files = steps("  - step: A\n    call: [W2]\n")
    files["sim/systems/here.yaml"] += "  - {name: w, from: control.W1, to: outdoors.C}\n"

    assert resolved(tmp_path, files).not_applicable == ""


@pytest.mark.parametrize(
    ("needs", "why"),
    [
        ("calls: [Y1]", ""),
        ("calls: [Y1, G, W1]", "G or W1 not wired here"),
        ("points: [compressor, gas_valve]", "no gas valve here"),
        ("points: [wire_Y1, control_voltage, outdoor_air]", ""),
        ("points: [wire_G]", "no wire G here"),
        ("switches: [limit]", "no limit here that can be opened"),
        ("equipment: [condensing_unit]", ""),
        ("equipment: [furnace]", "no furnace here"),
    ],
)
def test_a_sequence_whose_needs_are_not_here_does_not_apply(tmp_path: Path, needs: str, why: str) -> None:
    text = ONE + f"needs: {{{needs}}}\nsteps:\n  - step: A\n    call: [Y1]\n"

    assert resolved(tmp_path, library(text, system=SYSTEM)).not_applicable == why


@pytest.mark.parametrize(
    ("form", "why"),
    [
        ("{turns: {contactor: on}, within: ..5 s}", ""),
        ("{turns: {blower: on}, within: ..5 s}", "no blower here"),
        ("{turns: {contactor: on}, within: ..5 s, since: {inducer: on}}", "no inducer here"),
        ("{turns: {contactor: on}, within: ..5 s, since: {call: G}}", "G not wired here"),
        ("{stays: {contactor: on}, until: {inducer: on}}", "no inducer here"),
        ("{order: [{contactor: on}, {flame: on}]}", "no flame here"),
        ("{never: [{contactor: on}, {gas_valve: on}]}", "no gas valve here"),
        ("{reads: {supply_air: 90..120 °F}}", "no supply air here"),
        ("{times: {ignitor: on}, count: 1}", "no ignitor here"),
        ("{ask: Does it hum?}", ""),
        ("{ask: Does it hum?, applies_if: {fitted: hum, reason: nothing hums}}", "nothing hums"),
        ("{ask: Does it hum?, applies_if: {no_fitted: hum, reason: something hums}}", ""),
        ("{ask: Does it hum?, applies_if: {point: contactor, reason: nothing hums}}", ""),
        ("{ask: Does it hum?, applies_if: {no_point: contactor, reason: it clicks}}", "it clicks"),
        ("{ask: Does it hum?, applies_if: {no_point: blower, reason: it blows}}", ""),
        ("{ask: Does it hum?, applies_if: {call: G, reason: nothing hums}}", "nothing hums"),
    ],
)
def test_an_expectation_of_what_is_not_here_does_not_apply(tmp_path: Path, form: str, why: str) -> None:
    made = resolved(tmp_path, steps(f"  - step: A\n    call: [Y1]\n    lasts: 1 min\n    expect:\n      - {form}\n"))

    assert made.steps[0].expect[0].not_applicable == why


def test_what_is_not_here_can_neither_suspend_nor_be_asked_at_the_start(tmp_path: Path) -> None:
    text = ONE + (
        "starts: {compressor: off, blower: off}\nsteps:\n  - step: A\n    lasts: 1 min\n    expect:\n"
        "      - never: [{compressor: on}]\n        unless: {defrost: on, contactor: on}\n"
    )

    made = resolved(tmp_path, library(text, system=SYSTEM))

    assert [str(one) for one in made.starts] == ["compressor off"]
    assert made.steps[0].expect[0].text == "compressor never on, unless contactor on"


def test_conditions_that_are_known_not_to_hold_defer(tmp_path: Path) -> None:
    text = ONE + "conditions: {outdoor_air: 65..115 °F}\nsteps:\n  - step: A\n    call: [Y1]\n"
    files = library(text, system=SYSTEM)

    said = [resolved(tmp_path, files, now).deferred for now in ({"outdoor_air": 20.0}, {"outdoor_air": 5.0}, {}, None)]

    assert said == ["", "needs outdoor air 65.0 °F to 115.0 °F (now 41.0 °F)", "", ""]


@pytest.mark.parametrize(
    ("form", "sentence"),
    [
        ("{turns: {blower: on}, within: ..10 s}", "blower turns on within 10 s"),
        (
            "{turns: {compressor: on}, within: 270..330 s, since: {compressor: off}}",
            "compressor turns on within 4:30 min to 5:30 min of compressor off",
        ),
        ("{turns: {limit: open}, within: ..1 s, since: {call: W}}", "limit opens within 1 s of call W1 on"),
        (
            "{turns: {pressure_switch: closed}, within: ..1 s, since: {call: W1, goes: off}}",
            "pressure switch closes within 1 s of call W1 off",
        ),
        (
            "{turns: {blower: off}, within: 5 min.., since: {power: off}}",
            "blower turns off at least 5 min after power off",
        ),
        ("{turns: {blower: off}, within: 5 min..}", "blower turns off at least 5 min after the step's begin"),
        (
            "{turns: {reversing_valve: heat}, within: ..1 s, each: {defrost: off}, unless: {alarm: on}}",
            "reversing valve turns to heat within 1 s of each defrost off, unless alarm on",
        ),
        ("{stays: {blower: on}}", "blower stays on"),
        ("{stays: {blower: on}, for: 3 min, from: 2 s}", "blower stays on for at least 3 min from 2 s on"),
        ("{stays: {blower: on}, until: {flame: off}}", "blower stays on until flame off"),
        (
            "{stays: {compressor: off}, for: 170 s.., each: {compressor: off}}",
            "compressor stays off for at least 2:50 min after each compressor off",
        ),
        ("{order: [{inducer: on}, {limit: closed}]}", "in order: inducer on, limit closed"),
        ("{order: [{inducer: on}, {flame: on}], attempt: last}", "in order: inducer on, flame on, last attempt"),
        (
            "{never: [{gas_valve: on}, {pressure_switch: open}]}",
            "gas valve never on with pressure switch open",
        ),
        (
            "{never: [{gas_valve: on}, {limit: open}, {flame: on}], tolerate: 2 s}",
            "gas valve never on with limit open and flame on for more than 2 s",
        ),
        ("{reads: {supply_air: 90..120 °F}}", "supply air reads 90.0 °F to 120.0 °F at the end"),
        ("{reads: {supply_air: 90 °F..}, at: after 5 min}", "supply air reads at least 90.0 °F after 5 min"),
        ("{reads: {control_voltage: 18..30 V}, at: throughout}", "control voltage reads 18.0 V to 30.0 V throughout"),
        ("{times: {ignitor: on}, count: 3}", "ignitor turns on exactly 3 times"),
        ("{times: {compressor: on}, count: ..6, per: 59 min}", "compressor turns on at most 6 times in any 59 min"),
        ("{ask: Is the flame blue?}", "Is the flame blue?"),
    ],
)
def test_each_expectation_is_told_in_a_plain_sentence(tmp_path: Path, form: str, sentence: str) -> None:
    text = ONE + f"steps:\n  - step: A\n    lasts: 10 min\n    expect:\n      - {form}\n"

    made = resolved(tmp_path, library(text))

    assert made.steps[0].expect[0].text == sentence


def test_the_plan_says_in_milliseconds_what_the_file_says_in_units(tmp_path: Path) -> None:
    text = (
        ONE
        + """\
limits:
  rest: {default: 170..480 s, source: the trade}
steps:
  - step: A
    call: [Y1]
    lasts: {until: {contactor: on}}
    keep: 2 min
    set: {outdoor_air: 50 °F}
    expect:
      - {turns: {contactor: on}, within: ..1 s, usual: ..500 ms}
      - {stays: {contactor: on}, from: 2 s, for: rest, tolerate: ..1 s}
      - {order: [{contactor: on}, {compressor: on}], gaps: [..2 s]}
      - {times: {contactor: on}, count: 1..2, per: 1 h}
"""
    )

    step = resolved(tmp_path, library(text)).steps[0]
    turns, stays, order, times = step.expect

    assert (step.lasts, step.until, step.keep) == (None, ("contactor", "on"), 120_000) or step.until is not None
    assert (str(step.until), step.keep, step.set) == ("contactor on", 120_000, {"outdoor_air": pytest.approx(10)})
    assert (turns.within.range, turns.usual) == (Range(None, 1_000), Range(None, 500))
    assert (turns.within.origin, turns.within.name) == ("written here", "")
    assert (stays.begin, stays.length, stays.tolerate) == (2_000, 170_000, 1_000)
    assert order.gaps[0].range == Range(None, 2_000)
    assert (times.count.range, times.count.kind, times.per) == (Range(1, 2), "count", 3_600_000)


def test_a_plan_survives_its_way_through_the_log(tmp_path: Path) -> None:
    made = resolved(tmp_path, timed("value: 300 s"))

    assert msgspec.json.decode(msgspec.json.encode(made), type=plan.Sequence) == made


def test_a_monitor_knows_what_its_system_or_recording_can_show(tmp_path: Path) -> None:
    files = library(TIMED, system=SYSTEM)
    files["sequences/monitors/watch.yaml"] = """\
monitor: watch
title: Watch
purpose: Something
needs: {points: [compressor]}
limits:
  rest: {default: 170 s.., source: the trade, maker_data: prepurge, allow: 10 %}
expect:
  - {stays: {compressor: off}, for: rest, each: {compressor: off}, unless: {defrost: on}}
  - {never: [{compressor: on}, {gas_valve: on}]}
"""
    files["sim/systems/here.yaml"] += "maker_data:\n  prepurge: {value: 5 min, source: plate}\n"
    shelf = written(tmp_path, files)
    system, loaded = shelf.load("system", "here"), shelf.load("monitor", "watch")

    installed = resolve_monitor(loaded, system, shelf.profiles(system.document), shelf, must_run=True)
    recorded = resolve_monitor(loaded, None, {}, shelf, seen=["compressor", "defrost"])
    other = resolve_monitor(loaded, None, {}, shelf, seen=["blower"])

    assert (installed.expect[0].id, installed.expect[0].length, installed.expect[0].unless) == ("watch.1", 270_000, ())
    assert (installed.expect[1].not_applicable, installed.must_run) == ("no gas valve here", True)
    assert (recorded.expect[0].length, len(recorded.expect[0].unless), recorded.not_applicable) == (170_000, 1, "")
    assert other.not_applicable == "no compressor here"
