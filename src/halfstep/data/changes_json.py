"""A chart explained, as data.

Everything is in the player's written pitch. Beats are counted from 1 in the pulse of the
metre; ``start`` and ``beats`` are quarter notes, as in ``lesson.json``.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import Any

from halfstep.data.documents import JsonForm
from halfstep.data.harmony_json import change_data, chord_data, motions_data, names_data, scale_data
from halfstep.harmony.reduction import may_skip, one_note_line, triad
from halfstep.harmony.scale_choice import Reason
from halfstep.level import Level
from halfstep.part.places import Placed, placed_chords
from halfstep.part.transposed_part import Part
from halfstep.pitch import Name

CHANGES_FORM = JsonForm("halfstep-changes", "an explanation")


def changes_data(part: Part, *, level: Level, notices: Sequence[str]) -> dict[str, Any]:
    """The explanation of every chord, and of the way to the next one, strictly spelled."""
    part = replace(part, strict=True)
    analysis = part.analysis
    blues = {scale.mode.label: scale_data(scale) for scale in part.blues_scales()}
    return {
        **CHANGES_FORM.head,
        "title": analysis.chart.title,
        "instrument": part.instrument.key,
        "written_above_concert": {
            "letters": part.interval.letters,
            "semitones": part.interval.semitones,
        },
        "level": str(level),
        "key": part.key.ascii,
        "each_chord_in_its_mode": analysis.each_in_its_mode,
        "key_is_stated": analysis.chart.key is not None,
        "meter": str(analysis.chart.meter),
        "chords": list(_chords(part)),
        "regions": [
            {
                "key": part.local_keys[region.first].ascii,
                "first": region.first,
                "last": region.last,
            }
            for region in analysis.regions
        ],
        "signatures": [
            {"fifths": part.signature(region).fifths, "first": region.first, "last": region.last}
            for region in analysis.signatures
        ],
        "turnaround": _turnaround(part),
        "blues_scale": blues.get("minor blues"),
        "major_blues_scale": blues.get("major blues"),
        "notices": list(notices),
    }


def _turnaround(part: Part) -> dict[str, int] | None:
    """The first and the last of the chords that lead back to the top."""
    region = part.analysis.turnaround
    return {"first": region.first, "last": region.last} if region else None


def _chords(part: Part) -> Iterator[dict[str, Any]]:
    analysis = part.analysis
    places, skips, notes = placed_chords(analysis), may_skip(analysis), one_note_line(analysis)
    for index, (place, skip, note) in enumerate(zip(places, skips, notes, strict=True)):
        yield {**_chord(part, index, place), **_when_fast(part, index, skip, note)}


def _chord(part: Part, index: int, place: Placed) -> dict[str, Any]:
    analysed = part.analysis.chords[index]
    data = chord_data(analysed, interval=part.interval_at(index), place=part.place(index))
    scale, *others = data.pop("scales") or [None]
    return {
        **data,
        "written_bar": place.bar.written,
        "time": place.bar.time,
        "beat": _number(place),
        "role": str(analysed.function.role),
        "role_in_words": part.role_in_words(index),
        "guide_tones": names_data(part.guides(index)),
        "scale": scale,
        "other_scales": others,
        "next": _next(part, (index + 1) % len(part.analysis.chords)),
    }


def _when_fast(part: Part, index: int, skip: Reason | None, note: Name | None) -> dict[str, Any]:
    """What is left of a chord when the changes come fast."""
    interval = part.interval_at(index)
    tones = triad(part.analysis.chords[index])
    return {
        "may_skip": part.in_words(skip, index) if skip else None,
        "triad": names_data([tone.name + interval for tone in tones]),
        "one_note": (note + interval).ascii if note else None,
    }


def _number(place: Placed) -> int | float:
    return int(place.beat) if place.beat.denominator == 1 else float(place.beat)


def _next(part: Part, following: int) -> dict[str, Any] | None:
    """What changes into the next chord, around the loop too; None beside silence."""
    change = part.change(following)
    if change is None:
        return None
    return {
        "chord": following,
        "symbol": part.symbol(following).ascii,
        **change_data(change),
        "guide_tones": motions_data(part.guide_tones(following)),
    }
