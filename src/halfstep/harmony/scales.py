"""Which notes are in the scale? Formulas, modes and their spelling over a chord.

Modes are derived: a seven-note parent is listed once and each mode is the parent read
from another of its degrees. Symmetric and shortened scales are listed as formulas.

Conventions
-----------
- A scale is spelled from the chord's root by degrees, and a chord tone keeps its own
  letter: over C7♯5 the whole-tone scale has G♯, over C°7 the diminished scale has B𝄫.
- The altered scale names its third as a third: G A♭ B♭ B D♭ E♭ F.
- The parent key is the one whose signature a player thinks of: the major key of a
  major mode, the minor key of a melodic or harmonic minor mode.

Source: common practice, no source; key signatures and modes are held against music21.
"""

from collections.abc import Iterator
from functools import lru_cache
from itertools import chain
from typing import NamedTuple

from halfstep.errors import ReadError
from halfstep.pitch import (
    NATURAL_SEMITONES,
    OCTAVE,
    UNISON,
    Degree,
    Interval,
    Name,
    ascii_signs,
    parse_degrees,
    plain,
    practical,
)
from halfstep.progression.key import Key


class Mode(NamedTuple):
    """A kind of scale, without a root.

    Attributes
    ----------
    label : str
        As printed.
    degrees : tuple of Degree
        Ascending from the root, within the octave.
    parent : str
        ``major``, ``melodic minor``, ``harmonic minor`` or empty.
    parent_interval : Interval
        From the root up to the parent's tonic.
    """

    label: str
    degrees: tuple[Degree, ...]
    parent: str = ""
    parent_interval: Interval = UNISON


_PARENTS = {
    "major": "1 2 3 4 5 6 7",
    "melodic minor": "1 2 b3 4 5 6 7",
    "harmonic minor": "1 2 b3 4 5 b6 7",
}
_MODE_LABELS = {
    "major": ["Ionian", "Dorian", "Phrygian", "Lydian", "Mixolydian", "Aeolian", "Locrian"],
    "melodic minor": [
        "melodic minor", "Dorian ♭2", "Lydian augmented", "Lydian dominant",
        "Mixolydian ♭6", "Locrian ♮2", "altered",
    ],
    "harmonic minor": [
        "harmonic minor", "Locrian ♮6", "Ionian ♯5", "Dorian ♯4",
        "Phrygian dominant", "Lydian ♯2", "Locrian ♭4 𝄫7",
    ],
}  # fmt: skip
_ALTERED = "1 b2 b3 3 b5 b6 b7"
_FORMULAS = {
    "whole-tone": "1 2 3 #4 #5 b7",
    "half-whole diminished": "1 b2 b3 3 #4 5 6 b7",
    "whole-half diminished": "1 2 b3 4 b5 b6 bb7 7",
    "major pentatonic": "1 2 3 5 6",
    "minor pentatonic": "1 b3 4 5 b7",
    "minor blues": "1 b3 4 b5 5 b7",
    "major blues": "1 2 b3 3 5 6",
    "bebop dominant": "1 2 3 4 5 6 b7 7",
    "bebop major": "1 2 3 4 5 #5 6 7",
}


def _modes(parent: str) -> Iterator[Mode]:
    """The parent scale read from each of its degrees."""
    intervals = [degree.interval for degree in parse_degrees(_PARENTS[parent])]
    semitones = [interval.semitones for interval in intervals]
    semitones += [rise + OCTAVE.semitones for rise in semitones]
    for step, label in enumerate(_MODE_LABELS[parent]):
        turned = (
            Degree(place + 1, semitones[step + place] - semitones[step] - natural)
            for place, natural in enumerate(NATURAL_SEMITONES)
        )
        formula = parse_degrees(_ALTERED) if label == "altered" else tuple(turned)
        yield Mode(label, formula, parent, OCTAVE + -intervals[step] if step else UNISON)


MODES: dict[str, Mode] = {
    mode.label: mode
    for mode in (
        *chain.from_iterable(map(_modes, _PARENTS)),
        *(Mode(label, parse_degrees(formula)) for label, formula in _FORMULAS.items()),
    )
}
"""Every kind of scale, by its printed label."""


@lru_cache(maxsize=1)
def _modes_typed() -> dict[str, Mode]:
    """The kinds of scale by what is typed for them, in small letters."""
    typed = {ascii_signs(label).lower(): mode for label, mode in MODES.items()}
    typed |= {label.replace("♮", "natural ").lower(): mode for label, mode in MODES.items()}
    return typed | {
        "major": MODES["Ionian"],
        "minor": MODES["Aeolian"],
        "blues": MODES["minor blues"],
    }


def find_mode(text: str) -> Mode:
    """The kind of scale that is called so, as printed or typed: ``Mixolydian b6``.

    Raises
    ------
    ReadError
        When there is none, with those that there are.

    Examples
    --------
    >>> find_mode("mixolydian b6").label, find_mode("Locrian natural 2").label
    ('Mixolydian ♭6', 'Locrian ♮2')
    """
    mode = _modes_typed().get(ascii_signs(" ".join(text.split())).lower())
    if mode is None:
        raise ReadError(f"{text!r} is no scale; known are {', '.join(MODES)}")
    return mode


_LETTERS = 7


class ScaleNote(NamedTuple):
    """A note of a scale with its degree over the chord."""

    degree: Degree
    name: Name


class Scale(NamedTuple):
    """A scale on a root, spelled over its chord.

    Attributes
    ----------
    mode : Mode
    root : Name
    notes : tuple of ScaleNote
        Ascending from the root, without the octave.
    """

    mode: Mode
    root: Name
    notes: tuple[ScaleNote, ...]

    @property
    def names(self) -> tuple[Name, ...]:
        """The notes' names in order."""
        return tuple(note.name for note in self.notes)

    @property
    def pitch_classes(self) -> frozenset[int]:
        """What sounds, 0 to 11."""
        return frozenset(name.pitch_class for name in self.names)

    @property
    def parent(self) -> Key | None:
        """The key whose signature carries the scale, where it has the very names shown.

        None for symmetric scales, where the key would need more than seven accidentals, and
        where a note has another letter than in the key, such as the third of an altered scale.
        """
        if not self.mode.parent:
            return None
        key = Key(self.root + self.mode.parent_interval, self.mode.parent != "major")
        names = scale_over(key.tonic, _MODE_LABELS[self.mode.parent][0]).names
        return key if abs(key.fifths) <= 7 and set(names) == set(self.names) else None

    @property
    def parent_label(self) -> str:
        """The parent in words, such as ``D harmonic minor``; empty without one."""
        key = self.parent
        if key is None:
            return ""
        return f"{key.tonic} {self.mode.parent}"

    @property
    def readable(self) -> "Scale":
        """The same notes in names that are read at sight.

        No double signs; and where there was one, or eight notes crowd seven letters, no
        E♯, B♯, F♭ or C♭ either.

        >>> from halfstep.pitch import parse_name
        >>> scale = scale_over(parse_name("G#"), "whole-half diminished")
        >>> " ".join(map(str, scale.readable.names))
        'G♯ A♯ B C♯ D E F G'
        """
        crowded = len(self.notes) > _LETTERS
        doubled = any(abs(note.name.alteration) > 1 for note in self.notes)
        if not (crowded or doubled):
            return self
        notes = (
            note if practical(note.name) == self.root else note._replace(name=plain(note.name))
            for note in self.notes
        )
        return self._replace(notes=tuple(notes))

    def moved(self, interval: Interval) -> "Scale":
        """The same scale an interval higher."""
        notes = tuple(ScaleNote(note.degree, note.name + interval) for note in self.notes)
        return Scale(self.mode, self.root + interval, notes)

    def __str__(self) -> str:
        return f"{self.root} {self.mode.label}"


@lru_cache(maxsize=256)
def mode_steps(label: str) -> frozenset[int]:
    """The notes of a kind of scale in semitones over its root, 0 to 11."""
    return frozenset(degree.semitones for degree in MODES[label].degrees)


@lru_cache(maxsize=4096)
def scale_over(root: Name, label: str, chord: tuple[Degree, ...] = ()) -> Scale:
    """The scale of that label on ``root``, with the chord's degrees keeping their letters.

    Parameters
    ----------
    root : Name
    label : str
        A key of `MODES`.
    chord : tuple of Degree
        The degrees of the chord it is played over.

    Examples
    --------
    >>> from halfstep.pitch import parse_name
    >>> " ".join(map(str, scale_over(parse_name("F"), "Mixolydian").names))
    'F G A B♭ C D E♭'
    """
    mode = MODES[label]
    chord_degrees = {degree.semitones: degree.simple for degree in chord}
    notes = (chord_degrees.get(degree.semitones, degree) for degree in mode.degrees)
    return Scale(mode, root, tuple(ScaleNote(d, root + d.interval) for d in notes))
