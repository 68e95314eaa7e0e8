"""Harmony as data: chords, scales and changes as plain lists and dictionaries.

Note names are ASCII (``Eb``); places and lengths are quarter-note beats as exact
fractions in text (``7/2``). Everything can be given an interval higher, as a player
reads it.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from halfstep.harmony.analysis import AnalysedChord
from halfstep.harmony.changes import Change, Motion
from halfstep.harmony.function import ChordPlace
from halfstep.harmony.scales import Scale
from halfstep.pitch import UNISON, Interval, Name


def chord_data(
    analysed: AnalysedChord, *, interval: Interval = UNISON, place: ChordPlace | None = None
) -> dict[str, Any]:
    """A chord in its place: its tones, local key, function and scales, best first.

    Parameters
    ----------
    analysed : AnalysedChord
    interval : Interval
        From concert up to what a player reads.
    place : ChordPlace, optional
        The place as that player reads it; in concert pitch unless given.
    """
    span = analysed.span
    place = place or analysed.function.place
    symbol = span.symbol.moved(interval)
    return {
        "symbol": symbol.ascii,
        "printed": str(symbol),
        "bar": span.bar,
        "start": str(span.start),
        "beats": str(span.beats),
        "tones": [
            {"degree": t.degree.ascii, "name": (t.name + interval).ascii} for t in analysed.tones
        ],
        "bass": symbol.bass.ascii if symbol.bass else None,
        "local_key": place.key.ascii,
        "function": analysed.numeral,
        "scales": [
            {
                **scale_data(choice.scale.moved(interval)),
                "reason": choice.reason._replace(place=place).sentence(),
            }
            for choice in analysed.choices
        ],
    }


def scale_data(scale: Scale) -> dict[str, Any]:
    """A scale with its notes and the key whose signature carries it."""
    return {
        "name": f"{scale.root.ascii} {scale.mode.label}",
        "notes": [{"degree": n.degree.ascii, "name": n.name.ascii} for n in scale.notes],
        "parent": scale.parent.ascii if scale.parent else None,
        "parent_scale": scale.mode.parent or None,
        "parent_fifths": scale.parent.fifths if scale.parent else None,
    }


def change_data(change: Change) -> dict[str, Any]:
    """What stays, moves, comes and goes between two chords."""
    return {
        "stays": names_data(change.stays),
        "half_steps": motions_data(change.half_steps),
        "steps": motions_data(change.steps),
        "new": names_data(change.new),
        "renamed": motions_data(change.renamed),
        "leaves": names_data(change.leaves),
        "instruction": change.instruction,
    }


def names_data(names: Sequence[Name]) -> list[str]:
    """Names as text for data."""
    return [name.ascii for name in names]


def motions_data(motions: Sequence[Motion]) -> list[dict[str, str]]:
    """Old and new names as text for data."""
    return [{"from": motion.old.ascii, "to": motion.new.ascii} for motion in motions]
