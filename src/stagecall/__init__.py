"""Stagecall: commissioning test sequences for thermostat-controlled, 24 VAC heating and cooling equipment."""

__version__ = "0.1.0"
