"""What would work, as a command to paste: the one that was typed, with the offer put in.

The whole command is given, because half of one is what a hurried teacher mistypes. A chart
that came from standard input, or that holds a line break, has its place kept by ``CHART``.
"""

from __future__ import annotations

import argparse
import re
import shlex

from halfstep.etude.nearest import Impossible, Reads
from halfstep.etude.steps import STEPS

_OPTIONS = {
    "step": "step", "instrument": "for", "level": "level", "tempo": "tempo", "notes": "notes",
    "low": "low", "high": "high", "seed": "seed", "keep": "keep", "source": "from",
    "tune": "tune", "reading": "reading", "out": "out",
}  # fmt: skip
"""The options of ``halfstep etude`` that take a value, by what they are called inside."""

_BARE = re.compile(r"[\w.,:/+=#-]+", re.ASCII)
_OPEN_IN_QUOTES = re.compile(r'["$`\\!]')


def offered_command(asked: argparse.Namespace, refused: Impossible, part: Reads) -> str:
    """The command that writes what is offered; empty where nothing is."""
    if refused.offer is None:
        return ""
    values = {name: getattr(asked, name) for name in _OPTIONS} | _offered(asked, refused, part)
    words = ["halfstep", "etude", _chart(asked.chart)]
    for name, option in _OPTIONS.items():
        if values[name] is not None:
            words += [f"--{option}", quoted(values[name])]
    return " ".join([*words, *(["--degrees"] if asked.degrees else [])])


def _offered(asked: argparse.Namespace, refused: Impossible, part: Reads) -> dict[str, str | None]:
    """The options that the offer changes, as they are typed; None for one left out."""
    offer, wanted = refused.offer, refused.asked
    assert offer is not None
    new, old = offer.brief, wanted.brief
    changed: dict[str, str | None] = {}
    if offer.step != wanted.step:
        changed["step"] = STEPS[offer.step].name
    if new.level != old.level:  # the level's own tempo would be another
        changed |= {"level": str(new.level), "tempo": f"{old.tempo_bpm:g}"}
    if new.known is None and old.known is not None:
        changed["notes"] = None
    elif new.known != old.known:
        changed["notes"] = " ".join([asked.notes, *(n.ascii for n in refused.new_notes(part))])
    for option, low, high in zip(("low", "high"), new.limits, old.limits, strict=True):
        if low != high:
            changed[option] = refused.written(low, part).ascii
    return changed


def _chart(typed: str) -> str:
    return quoted(typed) if typed.isprintable() and typed != "-" else "CHART"


def quoted(text: str) -> str:
    """A word as every shell reads it; in double quotes where they are enough."""
    if _BARE.fullmatch(text):
        return text
    return shlex.quote(text) if _OPEN_IN_QUOTES.search(text) else f'"{text}"'
