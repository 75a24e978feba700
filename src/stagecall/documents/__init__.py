"""YAML documents to the model, with every complaint of a file in one go and every value's place kept."""

from stagecall.documents.library import KINDS, Kind, Library, missing
from stagecall.documents.loaded import Loaded, load, parse
from stagecall.documents.resolve import resolve_monitor, resolve_sequence
from stagecall.documents.walk import Places

__all__ = [
    "KINDS",
    "Kind",
    "Library",
    "Loaded",
    "Places",
    "load",
    "missing",
    "parse",
    "resolve_monitor",
    "resolve_sequence",
]
