"""Fillmark: from a viscosity test procedure in YAML to a checked method and its bench paper."""

__version__ = "0.1.0"
