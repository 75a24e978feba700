"""Drawings and documents made from logs: one record is built, many readers draw it."""
