"""Times of day in a test's CSV, given the date that a recording must have."""

import re


def dated(text: str) -> str:
    """``12:00:00`` as ``260102 12:00:00``, everywhere."""
    return re.sub(r"\d\d:\d\d:\d\d", r"260102 \g<0>", text)
