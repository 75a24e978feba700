"""Many machines in one table."""

from __future__ import annotations

import io

import pytest

from stagecall.model.event import VerdictLine
from stagecall.model.verdict import Verdict
from stagecall.report.draws import Draws, Machine, Row, as_object, drawn, width_of
from stagecall.units import Kind, Range


def draws() -> Draws:
    rows = {(False, "fan"): Row(name="fan", title="The fan", monitor=False)}
    return Draws(
        system="house", kit="full", faults=("y-open",), seed=3, asked=2, rows=rows,
        texts={("fan", "one.1"): "blower turns on within 10 s"}, again="stagecall run",
    )  # fmt: skip


def verdicts(margin: float, verdict: Verdict = Verdict.PASS) -> list[VerdictLine]:
    return [
        VerdictLine(of="fan", id="one.1", verdict=verdict, limit=Range(0, 10_000), margin=margin),
        VerdictLine(of="fan", verdict=verdict),
        VerdictLine(verdict=verdict),
    ]


@pytest.mark.parametrize(
    ("limit", "kind", "width"),
    [
        (Range(None, 6_000), "time", 6_000),
        (Range(2_000, 6_000), "time", 4_000),
        (Range(180_000, None), "time", 180_000),
        (Range(18, 30), "volts", 12),
        (Range(30, 50), "temperature", 20),
        (Range(30, None), "temperature", None),
        (Range(-17, -5), "difference", 12),
        (Range(5, 5), "time", None),
        (Range(None, 0), "time", None),
        (Range(3, 5), "count", None),
    ],
)
def test_a_margin_is_a_share_of_the_limits_width(limit: Range, kind: Kind, width: float | None) -> None:
    assert width_of(limit, kind) == width


def test_the_least_margin_of_all_machines_is_kept_with_its_machine() -> None:
    one = draws()
    for seed, margin in ((3, 2_000), (4, -500), (5, 1_000)):
        one.take(seed, verdicts(margin))
    least = one.rows[False, "fan"].least

    assert least is not None
    assert (least.share, least.seed, least.id, least.text) == (-0.05, 4, "one.1", "blower turns on within 10 s")


def test_what_does_not_count_is_not_counted() -> None:
    one = draws()
    whole, bad = one.take(
        3,
        [
            VerdictLine(of="fan", verdict=Verdict.NOT_APPLICABLE, counted=False),
            VerdictLine(of="often", monitor=True, verdict=Verdict.NOT_VERIFIED, counted=False),
            VerdictLine(verdict=Verdict.PASS),
        ],
    )

    assert (whole, bad, one.rows[False, "fan"].counted) == (Verdict.PASS, (), False)
    assert as_object(one, interrupted=False)["sequences"] == []
    assert "fan" not in drawn(one, io.StringIO(), interrupted=False)


def test_the_worst_machine_is_the_verdict_of_all() -> None:
    one = draws()
    one.take(3, verdicts(2_000))
    assert one.verdict is Verdict.PASS
    one.take(4, verdicts(2_000, Verdict.NOT_VERIFIED))
    assert one.verdict is Verdict.NOT_VERIFIED
    assert one.take(5, verdicts(-1, Verdict.FAIL)) == (Verdict.FAIL, ("fan",))
    assert one.verdict is Verdict.FAIL


def test_a_machine_on_which_much_did_not_pass_is_told_in_short() -> None:
    one = draws()
    one.take(3, verdicts(-1, Verdict.FAIL))
    names = tuple("abcdefg")
    one.not_passed.append(Machine(seed=3, verdict=Verdict.FAIL, names=names, log="3.run.jsonl"))

    assert "FAIL seed 3: a, b, c, d, e and 2 more; log 3.run.jsonl\n" in drawn(one, io.StringIO(), interrupted=False)
    assert as_object(one, interrupted=False)["not_passed"][0]["names"] == list(names)


@pytest.mark.parametrize("width", [40, 72, 120])
def test_the_table_keeps_to_the_width_of_a_terminal(width: int) -> None:
    one = draws()
    one.take(3, verdicts(2_000))
    said = drawn(one, io.StringIO(), interrupted=True, width=width)

    assert "FAULT y-open" in said.replace("\n", " ")
    assert "INTERRUPTED: 1 of 2 machines" in said.replace("\n", " ")
    if width >= 72:
        assert max(map(len, said.splitlines())) <= width
