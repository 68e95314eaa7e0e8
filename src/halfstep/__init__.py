"""Halfstep makes lessons in improvising over chord changes."""

__version__ = "0.1.0"
