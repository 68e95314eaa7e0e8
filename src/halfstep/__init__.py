"""Halfstep makes lessons in improvising over chord changes."""

from halfstep.version import VERSION

__version__ = VERSION

__all__ = ["__version__"]
