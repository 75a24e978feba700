"""How verdicts, figures and the closing sentences are said."""

from __future__ import annotations

import pytest

from report.hand_made import FAN, NOT_VERIFIED, failing, fan_lines, header, monitor_lines, passing, planned, record_from
from stagecall.model.event import Edge, PointBounds, VerdictLine
from stagecall.model.verdict import Reason, Verdict
from stagecall.points import Sensed
from stagecall.report import words
from stagecall.report.record import Record, Row
from stagecall.units import Kind, Range


def row(**fields: object) -> Row:
    given: dict[str, object] = {"id": "a.1", "step": "A", "text": "blower turns on", "verdict": Verdict.PASS}
    return Row(**(given | fields))  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("observed", "unit", "said"),
    [
        (Range(800, 800), "time", "800 ms"),
        (Range(4_100, 4_200), "time", "4.1 s to 4.2 s"),
        (Range(180_000, None), "time", "at least 3 min"),
        (Range(None, 180_000), "time", "at most 3 min"),
        (Range(12.5, 12.5), "temperature", "54.5 °F"),
        (Range(3, 3), "count", "3"),
        (Range(-109, 301), "time", "at most 301 ms"),
        (Range(-500, -300), "time", "-500 ms to -300 ms"),
        (Range(59_827, 60_241), "time", "59.8 s to 1:00.2 min"),
        (Range(4_492, 4_493), "time", "4.49 s"),
        (Range(8_515_368, 8_515_368), "time", "2:21:55 h"),
    ],
)
def test_an_observed_interval_is_said_with_its_unit(observed: Range, unit: Kind, said: str) -> None:
    assert words.observed(row(observed=observed, unit=unit)) == said


def test_what_never_came_is_said_by_its_detail_and_else_by_its_reason() -> None:
    assert words.observed(row(verdict=Verdict.FAIL, detail="did not come within 6 s")) == "did not come within 6 s"
    assert words.observed(row(verdict=NOT_VERIFIED, reason=Reason.NOT_OBSERVED)) == "not observed"
    unseen = row(verdict=NOT_VERIFIED, reason=Reason.NOT_OBSERVED, detail="blower cannot be seen")
    assert words.observed(unseen) == "not observed: blower cannot be seen"
    assert words.why(unseen) == ""


def test_a_figure_that_does_not_decide_says_why_beside_it() -> None:
    close = row(verdict=NOT_VERIFIED, reason=Reason.TOO_CLOSE, observed=Range(9_900, 10_100), remark="a slow sensor")

    assert words.observed(close) == "9.9 s to 10.1 s"
    assert words.why(close) == "too close to call; a slow sensor"


def test_what_never_came_up_is_not_counted_as_nought() -> None:
    assert words.observed(row(verdict=NOT_VERIFIED, reason=Reason.NEVER_CAME_UP, instances=0)) == "never came up"


def test_what_must_never_be_and_was_not_is_said_without_figures() -> None:
    nothing = row(instances=0, failed=0, observed=Range(0, 0), margin=50.0)

    assert (words.observed(nothing), words.margin(nothing)) == ("none seen", "")


def test_of_several_the_worst_is_said_and_how_many_were_wrong() -> None:
    good = row(instances=12, failed=0, observed=Range(301_000, 301_000))
    bad = row(verdict=Verdict.FAIL, instances=12, failed=2, observed=Range(100_000, 100_000))

    assert words.observed(good) == "12 seen, worst 5:01 min"
    assert words.observed(bad) == "2 of 12 wrong, worst 1:40 min"


@pytest.mark.parametrize(
    ("margin", "unit", "said"),
    [
        (1_800.0, "time", "+1.8 s"),
        (-120_000.0, "time", "-2 min"),
        (0.0, "time", "+0 ms"),
        (None, "time", ""),
        (-0.5, "temperature", "-0.9 °F"),
        (1.0, "count", "+1"),
    ],
)
def test_a_margin_bears_its_sign_and_a_temperatures_margin_is_a_difference(
    margin: float | None, unit: Kind, said: str
) -> None:
    assert words.margin(row(margin=margin, unit=unit)) == said


def test_verdicts_are_in_full_and_in_small_letters_where_they_do_not_count() -> None:
    assert words.verdict_words(row(verdict=NOT_VERIFIED)) == "NOT VERIFIED"
    assert words.verdict_words(row(verdict=NOT_VERIFIED, counted=False)) == "not verified"
    assert words.verdict_words(row(verdict=Verdict.NOT_APPLICABLE, counted=False)) == "not applicable"


def closing(record: Record) -> str:
    return " ".join(words.closing(record))


def test_a_pass_on_the_model_is_called_no_acceptance() -> None:
    assert closing(record_from(passing())) == (
        "PASS on the model: 1 of 1 sequence passed, 1 of 1 monitor passed. "
        "A pass on the model is not acceptance of equipment."
    )


def test_a_fail_names_what_failed_and_what_had_nothing_to_judge() -> None:
    assert closing(record_from(failing())) == (
        "FAIL on the model: 1 of 2 sequences passed. Failed: compressor-minimum-off. "
        "Nothing to judge for compressor-protection. A pass on the model is not acceptance of equipment."
    )


def test_what_is_not_verified_says_why() -> None:
    lines = [
        header(),
        *planned(FAN),
        VerdictLine(of="fan", verdict=NOT_VERIFIED, reason=Reason.CUT_SHORT),
        VerdictLine(verdict=NOT_VERIFIED),
    ]

    assert "NOT VERIFIED (cut short): fan." in closing(record_from(lines))


def test_what_is_not_verified_for_the_same_reason_is_named_together() -> None:
    reasons = {"a": Reason.CUT_SHORT, "b": Reason.NOT_OBSERVED, "c": Reason.CUT_SHORT}
    lines = [
        header(),
        *(VerdictLine(of=name, verdict=NOT_VERIFIED, reason=reason) for name, reason in reasons.items()),
        VerdictLine(verdict=NOT_VERIFIED),
    ]

    assert "NOT VERIFIED (cut short): a, c. NOT VERIFIED (not observed): b." in closing(record_from(lines))


def test_a_summary_with_exceptions_never_says_only_pass() -> None:
    lines = [
        header(),
        *planned(FAN),
        VerdictLine(of="fan", verdict=Verdict.EXCEPTED),
        VerdictLine(verdict=Verdict.EXCEPTED),
    ]
    said = closing(record_from(lines))

    assert said.startswith("PASS WITH EXCEPTIONS on the model: 0 of 1 sequence passed.")
    assert "EXCEPTED: fan." in said


def test_deferred_and_not_applicable_ones_are_told_and_not_counted() -> None:
    lines = [
        *passing()[:-1],
        VerdictLine(t=10_000, of="boiler", verdict=Verdict.NOT_APPLICABLE, counted=False),
        VerdictLine(t=10_000, of="mild", verdict=NOT_VERIFIED, reason=Reason.DEFERRED, counted=False),
        passing()[-1],
    ]
    said = closing(record_from(lines))

    assert said.startswith("PASS on the model: 1 of 1 sequence passed, 1 of 1 monitor passed.")
    assert "Deferred: mild." in said
    assert "Not applicable here: boiler." in said


def test_many_that_do_not_apply_are_only_counted() -> None:
    away = [
        VerdictLine(t=10_000, of=f"boiler-{number}", verdict=Verdict.NOT_APPLICABLE, counted=False)
        for number in range(5)
    ]

    assert "Not applicable here: 5 others." in closing(record_from([*passing()[:-1], *away, passing()[-1]]))


def test_passed_outside_usual_is_told_at_the_end() -> None:
    lines = [header(), *planned(FAN), *fan_lines(usual=False), VerdictLine(t=10_000, verdict=Verdict.PASS)]

    assert "Passed, outside usual: fan." in closing(record_from(lines))


def coming_on(point: str, **seen: Sensed) -> Record:
    bounds = {name: PointBounds(sensed=sensed) for name, sensed in seen.items()}
    return record_from([*passing(**bounds)[:-1], Edge(t=10_000, point=point, state="on"), passing()[-1]])


def test_a_contactor_coil_is_not_a_running_compressor() -> None:
    record = coming_on("contactor", contactor="coil_volts", blower="amps")

    assert words.not_proved(record) == ("contactor coil energised; compressor running NOT VERIFIED",)
    assert "contactor coil energised; compressor running NOT VERIFIED." in closing(record)


def test_the_second_contactor_speaks_for_the_second_compressor() -> None:
    record = coming_on("contactor_2", contactor_2="coil_volts", compressor="amps", blower="amps")

    assert words.not_proved(record) == ("contactor 2 coil energised; compressor 2 running NOT VERIFIED",)


def test_a_gas_valve_coil_is_no_flame() -> None:
    record = coming_on("gas_valve", gas_valve="coil_volts", blower="amps")

    assert words.not_proved(record) == ("gas valve coil energised; flame burning NOT VERIFIED",)


def test_a_blower_known_by_its_call_wire_alone_is_not_proved_to_run() -> None:
    record = coming_on("blower", blower="call_volts")

    assert words.not_proved(record) == ("blower coil energised; blower running NOT VERIFIED",)


@pytest.mark.parametrize("sensed", ["amps", "load_volts", "pressure", "person"])
def test_a_compressor_seen_by_itself_needs_no_such_words(sensed: Sensed) -> None:
    assert words.not_proved(coming_on("contactor", contactor="coil_volts", compressor=sensed, blower="amps")) == ()


def test_a_live_call_wire_claims_nothing_and_needs_no_such_words() -> None:
    assert words.not_proved(coming_on("wire_Y1", wire_Y1="call_volts", blower="amps")) == ()


def test_points_that_were_asked_for_and_not_seen_are_named() -> None:
    lines = passing(contactor=PointBounds(sensed="coil_volts"))

    assert "Not seen with kit full: blower, compressor." in closing(record_from(lines))


def test_an_idle_monitor_is_no_failure_and_is_told() -> None:
    lines = [*passing()[:-3], *monitor_lines(NOT_VERIFIED, t=10_000, counted=False), passing()[-1]]
    said = closing(record_from(lines))

    assert said.startswith("PASS on the model: 1 of 1 sequence passed.")
    assert "Nothing to judge for compressor-protection." in said


@pytest.mark.parametrize(
    ("tested_on", "place", "reminder"),
    [
        ("bench", "on the bench", "A pass on the bench is not acceptance of installed equipment."),
        ("equipment", "on the equipment", "The maker's sheet and the local code govern."),
        ("recorded log", "in the recorded log", "A recorded log shows only what its columns hold."),
    ],
)
def test_each_place_has_its_reminder(tested_on: str, place: str, reminder: str) -> None:
    said = closing(record_from(passing(tested_on)))  # type: ignore[arg-type]

    assert said.startswith(f"PASS {place}:")
    assert said.endswith(reminder)
