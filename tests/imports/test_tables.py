"""How files are written: delimiters, encodings, times, and lines that cannot be used."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from dated import dated

from stagecall.errors import UsageError
from stagecall.imports import Recording, read_recording
from stagecall.imports.stamps import Stamps
from stagecall.model.event import Edge, Note, Reading
from stagecall.model.map import Time

Import = Callable[..., Recording]

MAP = """
map: test
title: one
time: {column: time, format: "%y%m%d %H:%M:%S"}
columns:
  - {column: fan, point: blower, sensed: contact}
  - {column: supply, point: supply_air, sensed: air_temp, unit: °C}
"""
HEAD = "time,fan,supply\n"
GOOD = dated("12:00:00,0,20\n12:01:00,1,21\n")


@pytest.mark.parametrize(
    ("line", "why"),
    [
        ("260102 12:02:00,0", "has 2 cells, the first line has 3"),
        ("260102 12:02:00,0,20,7", "has 4 cells, the first line has 3"),
        ("260102 12:02:00,0,2O", "'2O' is not a number"),
        ("260102 12:02:00,0,1e999", "'1e999' is not a number"),
        ("260102 12:02:00,0,NaN", "'NaN' is not a number"),
        ("260102 12:02:00,maybe,20", "'maybe' is not a number"),
        ("260102 12:62:00,0,20", "'260102 12:62:00' is not a time as %y%m%d %H:%M:%S"),
        (",0,20", "'' is not a time as %y%m%d %H:%M:%S"),
        ("260102 12:01:00,0,20", "'260102 12:01:00' is not after the row before"),
        ("260102 11:00:00,0,20", "'260102 11:00:00' is not after the row before"),
        ('260102 12:02:00,"0,20', "cannot be taken apart: unexpected end of data"),
        ("\x00\x01", "has 1 cells, the first line has 3"),
    ],
)
def test_a_bad_line_is_told_by_its_number_and_the_rest_is_used(imported: Import, line: str, why: str) -> None:
    recording = imported(HEAD + GOOD + line + "\n" + dated("12:03:00,0,22\n"), MAP)

    assert [str(bad) for bad in recording.bad] == [f"line 4: {why}"]
    assert recording.used == 3
    assert [line.value for line in recording.events() if isinstance(line, Reading)] == [20, 21, 22]


def test_a_log_tells_what_was_left_out_and_does_not_drown_in_it(imported: Import) -> None:
    recording = imported(HEAD + GOOD + "rubbish\n" * 60, MAP)

    notes = [line.text for line in recording.lines() if isinstance(line, Note)]

    assert notes[:2] == ["recording.csv: 2 rows were used.", "Left out: line 4: has 1 cells, the first line has 3."]
    assert notes[-1] == "Left out: 10 more lines."
    assert len(notes) == 52


@pytest.mark.parametrize(("delimiter", "sign"), [("comma", ","), ("semicolon", ";"), ("tab", "\t"), ("pipe", "|")])
def test_cells_are_parted_by_the_maps_delimiter_and_blanks_around_them_do_not_count(
    imported: Import, delimiter: str, sign: str
) -> None:
    text = (HEAD + dated("12:00:00, 0 ,20\n")).replace(",", sign)
    recording = imported(text, MAP.replace("columns:", f"table: {{delimiter: {delimiter}}}\ncolumns:"))

    assert (recording.used, recording.bad) == (1, ())


def test_a_decimal_comma_a_quoted_cell_a_byte_order_mark_and_windows_line_ends_are_read(imported: Import) -> None:
    text = "\ufefftime,fan,supply\r\n" + dated('12:00:00,0,"-0,7"\r\n\r\n12:01:00,1,",5"\r\n')
    recording = imported(text, MAP.replace("columns:", "table: {decimal: comma}\ncolumns:"))

    assert [line.value for line in recording.events() if isinstance(line, Reading)] == [-0.7, 0.5]
    assert recording.bad == ()


def test_trailing_delimiters_do_not_count_as_cells(imported: Import) -> None:
    recording = imported("time,fan,supply,,\n" + dated("12:00:00,0,20\n12:01:00,0,20,\n12:02:00,0,20,,,,\n"), MAP)

    assert (recording.used, recording.bad) == (3, ())


def test_a_file_without_a_line_of_names_has_numbered_columns(imported: Import) -> None:
    numbered = MAP.replace("column: time", 'column: "1"').replace("column: fan", 'column: "2"')
    numbered = numbered.replace("column: supply", 'column: "3"').replace("columns:", "table: {header: false}\ncolumns:")

    assert imported(GOOD, numbered).used == 2


def test_a_cell_may_be_missing_in_the_whole_file_or_in_one_column(imported: Import) -> None:
    text = HEAD + dated("12:00:00,0,-999\n12:01:00,-1,20\n12:02:00,-999,20\n12:03:00,1,-1\n")
    recording = imported(
        text,
        MAP.replace("columns:", 'missing: {cells: ["-999"]}\ncolumns:').replace(
            "sensed: contact", 'sensed: contact, missing: ["-1"]'
        ),
    )

    assert recording.bad == ()
    assert [line.value for line in recording.events() if isinstance(line, Reading)] == [20, 20, -1]


def test_rows_that_are_zero_in_all_the_named_columns_were_never_recorded(imported: Import) -> None:
    text = HEAD + dated("12:00:00,1,20\n12:01:00,0,0\n12:02:00,0,0.0\n12:03:00,0,1\n12:04:00,1,0\n12:05:00,0,\n")
    recording = imported(text, MAP.replace("columns:", "missing: {rows_of_zeros: [fan, supply]}\ncolumns:"))

    assert (recording.used, recording.rows.zero_rows, recording.bad) == (4, 2, ())
    assert "2 rows of zeros were taken as never recorded." in list(recording.remarks())


def test_words_for_on_and_off_are_understood(imported: Import) -> None:
    recording = imported(HEAD + dated("12:00:00,OFF,\n12:01:00,On,\n12:02:00,false,\n12:03:00,yes,\n"), MAP)

    assert [line.state for line in recording.events() if isinstance(line, Edge)] == ["on", "off", "on"]


def test_a_date_and_a_time_in_two_columns_are_joined(imported: Import) -> None:
    text = "d,t,fan,supply\n260102,12:00:00,0,20\n260102,12:01:00,0,20\n"
    recording = imported(text, MAP.replace("column: time", "column: [d, t]"))

    assert recording.start == "2026-01-02T12:00:00-00:00"


@pytest.mark.parametrize(
    ("csv", "why"),
    [
        (b"", "holds no row that can be used."),
        (HEAD.encode(), "holds no row that can be used."),
        ((HEAD + "x,0,1\n").encode(), "The first line left out: line 2: 'x' is not a time as %y%m%d %H:%M:%S."),
        (b"time;fan;supply\n", "has no column 'time'; it has: time;fan;supply."),
        (b"time,fans,supply\n", "has no column 'fan'; did you mean 'fans'?"),
        (b"time,fan,fan,supply\n", "has 2 columns called 'fan'."),
    ],
)
def test_a_file_that_cannot_be_used_is_told_in_one_sentence(imported: Import, csv: bytes, why: str) -> None:
    with pytest.raises(UsageError) as caught:
        imported(csv, MAP)
    assert why in str(caught.value)


def test_a_file_that_is_not_there_is_told(imported: Import) -> None:
    recording = imported(HEAD + GOOD, MAP)
    recording.path.unlink()

    with pytest.raises(UsageError) as caught:
        read_recording(recording.path, recording.loaded)
    assert str(caught.value) == f"The recording {recording.path} cannot be read: there is no such file."


def test_a_file_in_another_encoding_than_the_maps_is_told(imported: Import) -> None:
    with pytest.raises(UsageError, match="is not written in utf-16"):
        imported(HEAD + GOOD, MAP.replace("columns:", "table: {encoding: utf-16}\ncolumns:"))


@pytest.mark.parametrize(
    ("zone", "text", "start"),
    [
        ("unknown", "2026-07-01 12:00", "2026-07-01T12:00:00-00:00"),
        ("-07:00", "2026-07-01 12:00", "2026-07-01T12:00:00-07:00"),
        ("America/Denver", "2026-07-01 12:00", "2026-07-01T12:00:00-06:00"),
        ("America/Denver", "2026-12-01 12:00", "2026-12-01T12:00:00-07:00"),
    ],
)
def test_a_start_bears_the_zones_offset(zone: str, text: str, start: str) -> None:
    stamps = Stamps(Time(format="%Y-%m-%d %H:%M", zone=zone))

    assert stamps.rfc3339(stamps.ms(text)) == start


def test_an_hour_that_a_zone_has_twice_is_the_second_one_where_time_would_go_back() -> None:
    stamps = Stamps(Time(format="%Y-%m-%d %H:%M", zone="America/Denver"))
    first = stamps.ms("2026-11-01 01:30", None)

    assert stamps.ms("2026-11-01 01:00", first) - first == 30 * 60_000
    assert stamps.ms("2026-11-01 01:40", first) - first == 10 * 60_000


def test_unix_times_are_read_in_seconds_and_in_milliseconds() -> None:
    seconds, milliseconds = Stamps(Time(format="unix seconds")), Stamps(Time(format="unix milliseconds", zone="+01:00"))

    assert seconds.ms("1468396800") == milliseconds.ms("1468396800000") == 1_468_396_800_000
    assert seconds.ms("1468396800.25") == 1_468_396_800_250
    assert milliseconds.rfc3339(1_468_396_800_250) == "2016-07-13T09:00:00.250+01:00"


@pytest.mark.parametrize("text", ["nan", "inf", "1e30", "-5", "tomorrow", ""])
def test_what_is_no_unix_time_is_told(text: str) -> None:
    with pytest.raises(ValueError, match="is not a time as unix seconds"):
        Stamps(Time(format="unix seconds")).ms(text)
