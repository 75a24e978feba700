"""Times as other people write them, to whole milliseconds."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta, timezone, tzinfo
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from stagecall.model.map import Time

_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_LAST = int((datetime(9999, 1, 1, tzinfo=UTC) - _EPOCH).total_seconds()) * 1000
_OFFSET = re.compile(r"([+-])(\d\d):(\d\d)")
UNIX = {"unix seconds": 1000, "unix milliseconds": 1}


def zone_of(text: str) -> tzinfo | None:
    """``-07:00`` or ``America/Denver`` as a zone; None where the zone is unknown.

    Raises:
        ValueError: neither.
    """
    if text == "unknown":
        return None
    if match := _OFFSET.fullmatch(text):
        away = timedelta(hours=int(match[2]), minutes=int(match[3]))
        return timezone(-away if match[1] == "-" else away)
    try:
        return ZoneInfo(text)
    except (ZoneInfoNotFoundError, ValueError, OSError) as error:
        raise ValueError(
            f"'{text}' is no zone; write unknown, an offset (-07:00) or a name (America/Denver)"
        ) from error


def column_names(columns: str | tuple[str, ...]) -> tuple[str, ...]:
    """The columns that a time is joined from, by a space."""
    return (columns,) if isinstance(columns, str) else columns


def formats_of(time: Time) -> tuple[str, ...]:
    """The formats to try, in this order."""
    return (time.format,) if isinstance(time.format, str) else time.format


class Stamps:
    """Reads one recording's times. Milliseconds are since 1970, in UTC; of an unknown zone as if it were UTC."""

    def __init__(self, time: Time) -> None:
        """Raises ValueError where the zone is none."""
        self._zone = zone_of(time.zone)
        self._formats = formats_of(time)

    def ms(self, text: str, after: int | None = None) -> int:
        """The moment; an hour that a zone has twice is the second one where the first is not *after*.

        Raises:
            ValueError: not a time in any of the formats; the message is the complaint.
        """
        for form in self._formats:
            try:
                moment = self._unix(text, UNIX[form]) if form in UNIX else self._local(text, form, after)
            except (ValueError, OverflowError):
                continue
            if 0 <= moment < _LAST:
                return moment
        raise ValueError(f"'{text}' is not a time as {' or '.join(self._formats)}")

    def rfc3339(self, ms: int) -> str:
        """The moment as text with its offset, ``-00:00`` where the zone is unknown."""
        moment = (_EPOCH + timedelta(milliseconds=ms)).astimezone(self._zone or UTC)
        text = moment.isoformat(timespec="milliseconds" if ms % 1000 else "seconds")
        return text if self._zone is not None else text.replace("+00:00", "-00:00")

    def _unix(self, text: str, scale: int) -> int:
        return round(float(text) * scale)

    def _local(self, text: str, form: str, after: int | None) -> int:
        moment = datetime.strptime(text, form)  # noqa: DTZ007 - the next lines give it the recording's zone
        if moment.tzinfo is None:
            moment = moment.replace(tzinfo=self._zone or UTC)
        ms = _since_epoch(moment)
        if after is not None and ms <= after and moment.fold == 0:
            second = _since_epoch(moment.replace(fold=1))
            return second if second > after else ms
        return ms


def _since_epoch(moment: datetime) -> int:
    return (moment - _EPOCH) // timedelta(milliseconds=1)
