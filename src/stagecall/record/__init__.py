"""The log: append, seal, read, verify. Nothing here knows what a verdict is."""

from stagecall.record.framing import document
from stagecall.record.log import Log
from stagecall.record.reading import Damage, LogReading, read

__all__ = ["Damage", "Log", "LogReading", "document", "read"]
