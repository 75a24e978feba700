"""``stagecall schema``: the JSON Schema of a kind of document, for editors."""

from __future__ import annotations

import json

from stagecall.cli.saying import tell
from stagecall.documents import KINDS
from stagecall.documents.schema import schema
from stagecall.documents.words import unknown
from stagecall.errors import ExitCode, UsageError


def print_schema(kind: str) -> int:
    """Print it.

    Raises:
        UsageError: there is no such kind.
    """
    if kind not in KINDS:
        raise UsageError(unknown(kind, "a kind of file", KINDS))
    tell(json.dumps(schema(KINDS[kind]), indent=2, ensure_ascii=False))
    return ExitCode.PASSED
