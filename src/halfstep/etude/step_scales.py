"""Which scale does a step play over each chord, where that is not the one of the chart?

A pentatonic, a blues scale or one of eight notes stands in the place of the first choice, so
that rules, spelling and marks follow from it as from any other. Where none fits a chord the
choice of the chart stays.
"""

from __future__ import annotations

from collections.abc import Callable

from halfstep.harmony.analysis import AnalysedChord, Analysis
from halfstep.harmony.changes import change_between
from halfstep.harmony.scale_choice import Reason, ScaleChoice
from halfstep.harmony.scales import Mode, Scale, ScaleNote
from halfstep.pitch import NATURAL_SEMITONES, Degree, Name

ScaleOver = Callable[[Analysis, AnalysedChord], Scale | None]
"""The scale of a step over a chord that is not silent; None where there is none."""
_OF_THE_STEP = "it is the scale of the step"


def with_scales(analysis: Analysis, scale_over: ScaleOver) -> Analysis:
    """The analysis with the scales of a step; the same again where they stand already."""
    plain = analysis._replace(chords=tuple(map(_as_in_the_chart, analysis.chords)))
    chords = tuple(
        chord if chord.silent else _with_scale(chord, scale_over(plain, chord))
        for chord in plain.chords
    )
    if chords == analysis.chords:
        return analysis
    changes = tuple(
        None if chord.silent or after.silent else change_between(chord.scale, after.scale)
        for chord, after in zip(chords, (*chords[1:], chords[0]), strict=True)
    )
    return analysis._replace(chords=chords, changes=changes)


def has_scale_of_step(chord: AnalysedChord) -> bool:
    """True where the scale of a step stands over a chord."""
    return bool(chord.choices) and chord.choices[0].reason.text == _OF_THE_STEP


def _as_in_the_chart(chord: AnalysedChord) -> AnalysedChord:
    return chord._replace(choices=chord.choices[1:]) if has_scale_of_step(chord) else chord


def _with_scale(chord: AnalysedChord, scale: Scale | None) -> AnalysedChord:
    if scale is None:
        return chord
    choice = ScaleChoice(scale, Reason(_OF_THE_STEP, chord.function.place))
    return chord._replace(choices=(choice, *chord.choices))


def scale_of_names(mode: Mode, tonic: Name, names: tuple[Name, ...], root: Name) -> Scale:
    """A scale of those notes on a tonic, its degrees counted over the root of a chord."""
    notes = sorted(
        (ScaleNote(degree_over(root, name), name) for name in names),
        key=lambda note: (note.name.pitch_class - root.pitch_class) % 12,
    )
    return Scale(mode, tonic, tuple(notes))


def degree_over(root: Name, name: Name) -> Degree:
    """The degree that a note is over a root.

    >>> from halfstep.pitch import parse_name
    >>> str(degree_over(parse_name("F"), parse_name("Gb")))
    '♭2'
    """
    letters = (name.letter - root.letter) % 7
    rise = name.pitch_class - root.pitch_class - NATURAL_SEMITONES[letters]
    return Degree(letters + 1, (rise + 6) % 12 - 6)
