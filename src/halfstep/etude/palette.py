"""What may a note over a chord be? A chord as the search sees it.

For every MIDI number in the player's range: is it in the scale, in the chord, an avoid
note, a changing note, and how much does it tell of the chord?
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import lru_cache
from typing import Any

import numpy as np

from halfstep.errors import BriefError
from halfstep.etude.etude_brief import Brief
from halfstep.etude.same_analysis import SameAnalysis
from halfstep.harmony.analysis import AnalysedChord, Analysis
from halfstep.harmony.line_figures import mixture_of
from halfstep.harmony.note_likelihoods import chord_family, log_shares
from halfstep.pitch import NATURAL_SEMITONES, Degree, Name, Pitch, name_at, pitch_near

Flags = np.ndarray[Any, np.dtype[np.bool_]]
Midis = np.ndarray[Any, np.dtype[np.int64]]
Gains = np.ndarray[Any, np.dtype[np.float64]]
_MIDI = np.arange(128)
_CLASSES = _MIDI % 12


@dataclass(frozen=True, slots=True, eq=False)
class Palette:
    """A chord as a search sees it. Arrays have 128 places, one for each MIDI number.

    Attributes
    ----------
    chord : int
        Index into ``Analysis.chords``.
    label : str
        The chord as printed, in concert pitch.
    names : dict
        Pitch class to spelled name, for the notes of the scale.
    degrees : dict
        Pitch class to degree over the root.
    scale, tones, core, guide, avoid, changing, cell : array of bool
        In range and in the scale; a chord tone; a tone of the arpeggio; its third or
        seventh; the fourth over a major third; new with this chord; 1 2 3 5 of the scale.
    open : array of bool
        In range, whatever it is; for notes that approach others.
    gain : array of float, shape (3, 128)
        Nats that a note tells of this chord against the chart's mixture, for each weight
        of its place in the bar (`halfstep.harmony.note_likelihoods`).
    surprise : array of float, shape (3, 128)
        Nats by which a note surprises over the chord: minus the logarithm of its share in solos.
    scale_rank, core_rank : array of int
        How many such notes lie at or below: neighbours differ by one.
    root_class : int
    beats : Fraction
        How long the chord lasts.
    look : tuple
        Equal for palettes that rules and costs cannot tell apart.
    """

    chord: int
    label: str
    names: dict[int, Name]
    degrees: dict[int, Degree]
    scale: Flags
    tones: Flags
    core: Flags
    guide: Flags
    avoid: Flags
    changing: Flags
    cell: Flags
    open: Flags
    gain: Gains
    surprise: Gains
    scale_rank: Midis
    core_rank: Midis
    root_class: int
    beats: Fraction
    look: tuple[object, ...] = ()

    def pitch(self, midi: int, goal: Pitch | None = None) -> Pitch:
        """The sounding note, spelled as the scale spells it.

        A note from outside is spelled a letter away from its goal, the note it leads to.
        """
        name = self.names.get(midi % 12)
        if name is None:
            name = _leading_name(midi, goal)
        return pitch_near(name, midi)


def _leading_name(midi: int, goal: Pitch | None) -> Name:
    """A name for a chromatic note: the letter below or above the note it leads to."""
    if goal is None or goal.midi == midi:
        return NAMES_OF_SOUND[midi % 12]
    letter = (goal.name.letter + (-1 if midi < goal.midi else 1)) % 7
    alteration = (midi - NATURAL_SEMITONES[letter] + 6) % 12 - 6
    name = Name(letter, alteration)
    plain = abs(alteration) <= 1 and name.ascii not in {"Cb", "Fb", "E#", "B#"}
    return name if plain else NAMES_OF_SOUND[midi % 12]


NAMES_OF_SOUND = tuple(name_at(fifths) for fifths in (0, 7, 2, -3, 4, -1, 6, 1, 8, 3, -2, 5))
"""A usual name for each of the twelve notes, from C up."""


def _among(classes: set[int], brief: Brief) -> Flags:
    """Which MIDI numbers in range belong to those pitch classes."""
    meant = np.zeros(12, bool)
    meant[list(classes)] = True
    return np.asarray(_playable(brief) & meant[_CLASSES])


def _playable(brief: Brief) -> Flags:
    """Which MIDI numbers the player has."""
    return _between(brief.concert_low, brief.concert_high, brief.known)


@lru_cache(64)
def _between(low: int, high: int, known: frozenset[int] | None) -> Flags:
    in_range = (low <= _MIDI) & (high >= _MIDI)
    if known is not None:
        in_range &= np.isin(_MIDI, list(known))
    in_range.flags.writeable = False
    return np.asarray(in_range)


def _likely(chord: AnalysedChord) -> Gains | None:
    """The log-likelihood of each pitch class over the chord, shape (3, 12)."""
    family = chord_family(chord.span.symbol)
    if family is None:
        return None
    return np.array(log_shares(family, chord.span.symbol.root.pitch_class)).reshape(3, 12)


def _gain(likely: Gains | None, mixture: Sequence[float]) -> Gains:
    """What each note tells of the chord at each weight, in nats."""
    if likely is None:
        return np.zeros((3, 128))
    return np.asarray((likely - np.array(mixture).reshape(3, 12))[:, _CLASSES])


def cell_classes(chord: AnalysedChord) -> set[int]:
    """The root, second, third and fifth of the scale; the chord's own where it has two."""
    tone_classes = {tone.degree.number: tone.name.pitch_class for tone in chord.tones}
    scale = {note.degree.number: note.name.pitch_class for note in chord.scale.notes}
    classes = (tone_classes.get(number, scale.get(number)) for number in (1, 2, 3, 5))
    return {pitch_class for pitch_class in classes if pitch_class is not None} & set(
        chord.scale.pitch_classes
    )


def palette_of(analysis: Analysis, index: int, brief: Brief, mixture: Sequence[float]) -> Palette:
    """The palette of a chord, given the log-likelihoods of the chart's mixture.

    Raises
    ------
    BriefError
        When no note of the chord lies in the player's range.
    """
    chord = analysis.chords[index]
    root = chord.span.symbol.root
    scale = {note.name.pitch_class: note for note in chord.scale.notes}
    tones = {tone.name.pitch_class for tone in chord.tones} & set(scale)
    core = {tone.name.pitch_class for tone in chord.core}
    guide = {t.name.pitch_class for t in chord.guides}
    new = _new_classes(analysis, index)
    core_flags = _among(core, brief)
    if not core_flags.any():
        raise BriefError(
            f"no note of {chord.span.symbol} lies in the range of {brief.instrument.key} at "
            f"level {brief.level}; widen the range or choose another instrument"
        )
    scale_flags = _among(set(scale), brief)
    avoid = _avoid(chord, root.pitch_class)
    likely = _likely(chord)
    sets = (set(scale), tones, core, guide, avoid, new & set(scale))
    return Palette(
        index,
        str(chord.span.symbol),
        {pc: note.name for pc, note in scale.items()},
        {pc: note.degree for pc, note in scale.items()},
        scale_flags,
        _among(tones, brief),
        core_flags,
        _among(guide, brief),
        _among(avoid, brief),
        _among(new & set(scale), brief),
        _among(cell_classes(chord), brief),
        _playable(brief),
        _gain(likely, mixture),
        np.zeros((3, 128)) if likely is None else np.asarray(-likely[:, _CLASSES]),
        scale_flags.cumsum(),
        core_flags.cumsum(),
        root.pitch_class,
        chord.span.beats,
        (
            root.pitch_class,
            chord_family(chord.span.symbol),
            chord.span.beats,
            *map(frozenset, sets),
        ),
    )


def _new_classes(analysis: Analysis, index: int) -> set[int]:
    """The pitch classes that come with a chord; nothing stands before the first one."""
    change = analysis.changing_into(index) if index else None
    return {name.pitch_class for name in change.changing_notes} if change else set()


def _avoid(chord: AnalysedChord, root_class: int) -> set[int]:
    """The fourth over a major third, unless the chord itself holds it."""
    held = {(tone.name.pitch_class - root_class) % 12 for tone in chord.tones}
    return {(root_class + 5) % 12} if 4 in held and 5 not in held else set()


def chord_palettes(analysis: Analysis, brief: Brief) -> tuple[Palette | None, ...]:
    """One palette for each chord; None for ``N.C.``"""
    own = replace(brief, tempo_bpm=1.0, seed=0, pinned=(), ending=None, articulation=None)
    return _palettes(SameAnalysis(analysis), own)


@lru_cache(4)
def _palettes(same: SameAnalysis, brief: Brief) -> tuple[Palette | None, ...]:
    """Kept, since kin are written over the same ones."""
    analysis = same.analysis
    mixture = mixture_of([chord.span for chord in analysis.chords])
    known: dict[tuple[object, ...], Palette] = {}
    palettes: list[Palette | None] = []
    for index, chord in enumerate(analysis.chords):
        if chord.silent:
            palettes.append(None)
            continue
        new = _new_classes(analysis, index)
        key = (chord.span.symbol, chord.span.beats, chord.tones, chord.scale, frozenset(new))
        if key not in known:
            known[key] = palette_of(analysis, index, brief, mixture)
        palettes.append(replace(known[key], chord=index))
    return tuple(palettes)
