"""Scores for tests: built from words, and drawn at random with all that a part can hold."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from hypothesis import strategies as st

from halfstep.instruments import INSTRUMENTS, Clef
from halfstep.meter import Meter
from halfstep.notation import lengths_at
from halfstep.pitch import UNISON, Pitch, parse_pitch
from halfstep.score import Barline, ChordText, Dynamic, Mark, Road, Score, ScoreBar, ScoreNote
from strategies import GROUPED, meters, names

COMMON = Meter(4, 4)
THIRD, EIGHTH, SIXTEENTH = Fraction(1, 3), Fraction(1, 2), Fraction(1, 4)
FIGURES = ((1,), (2,), ("1/2", "1/2"), ("1/2",), ("1/4", "1/4"), ("3/4", "1/4"), (THIRD,) * 3,
           (2 * THIRD, THIRD), (THIRD, 2 * THIRD), ("1/6",) * 3, ("3/2", "1/2"))  # fmt: skip
"""Pieces of rhythm, in beats: triplets of eighths and sixteenths among them."""


def lengths(text: str) -> list[Fraction]:
    """Lengths in beats: ``1 1/2 1/2``."""
    return [Fraction(word) for word in text.split()]


def line(text: str, beats: object = 1, marks: Mark = Mark.NONE) -> tuple[ScoreNote, ...]:
    """Notes and rests by name (``C5 r F#4``), of one length or of a list of lengths."""
    pitches = [None if word == "r" else parse_pitch(word) for word in text.split()]
    if isinstance(beats, str):
        beats = lengths(beats)
    several = beats if isinstance(beats, list) else [beats] * len(pitches)
    return tuple(ScoreNote(p, Fraction(b), marks) for p, b in zip(pitches, several, strict=True))


def rhythm(beats: str, meter: Meter = COMMON, number: int = 1) -> ScoreBar:
    """A bar of one pitch in a rhythm; a length in brackets is a rest."""
    notes = [
        ScoreNote(None if word.startswith("(") else parse_pitch("C5"), Fraction(word.strip("()")))
        for word in beats.split()
    ]
    return ScoreBar(number, meter, tuple(notes))


def part(*bars: ScoreBar, fifths: int = 0, **more: object) -> Score:
    """A part for a concert instrument with a treble clef, unless it says otherwise."""
    fields = {
        "title": "Stairs", "label": "Part", "key_fifths": fifths, "mode": "major",
        "clef": Clef.TREBLE, "rise": UNISON, "program": 65, "tempo_bpm": 96.0, "swing": None,
    }  # fmt: skip
    return Score(**{**fields, **more}, bars=bars)  # type: ignore[arg-type]


def symbol(root: str, extension: str = "", *, at: object = 0, **more: str) -> ChordText:
    """A chord symbol over the staff."""
    kind = more.pop("kind", "other")
    return ChordText(Fraction(at), root=root, extension=extension, kind=kind, **more)  # type: ignore[arg-type]


LONG = (
    symbol("C♯", "7♭5", quality="m"),
    symbol("F♯", "7♭9", at=2),
)
"""Two symbols that take much room."""


@st.composite
def rhythmic_bars(draw: st.DrawFn, number: int, meter: Meter) -> ScoreBar:
    """A full bar of figures and rests, cut as the writer cuts its lengths."""
    notes: list[ScoreNote] = []
    at = Fraction(0)
    while at < meter.bar_beats:
        figure = [Fraction(length) for length in draw(st.sampled_from(FIGURES))]
        if sum(figure) > meter.bar_beats - at or (at % 1 and figure[0].denominator % 3 == 0):
            figure = [meter.bar_beats - at if meter.bar_beats - at < 1 else 1 - at % 1]
        for beats in figure:
            rest = draw(st.integers(0, 7)) == 0
            pitch = None if rest else parse_pitch(draw(st.sampled_from(("C5", "F#4", "Bb5"))))
            pieces = [beats] if beats.denominator % 3 == 0 else lengths_at(
                meter, at, beats, rest=rest
            )  # fmt: skip
            notes += [ScoreNote(pitch, length) for length in pieces]
            at += beats
    return ScoreBar(number, meter, tuple(notes))


@st.composite
def rhythmic_scores(draw: st.DrawFn, *, max_bars: int = 6) -> Score:
    """A part of a few bars in any metre: rhythm and nothing else."""
    meter = draw(st.one_of(meters(), st.sampled_from(GROUPED)))
    count = draw(st.integers(1, max_bars))
    return part(*(draw(rhythmic_bars(number, meter)) for number in range(1, count + 1)))


MARKS = (
    Mark.CHANGING, Mark.BREATH, Mark.LEADS, Mark.LEADS_CHROMATIC, Mark.ENCLOSES, Mark.SLUR,
    Mark.ACCENT, Mark.STACCATO, Mark.TENUTO, Mark.GHOST, Mark.SCOOP, Mark.FALL,
)  # fmt: skip
KINDS = {"major": "", "minor-seventh": "m7", "dominant": "7", "half-diminished": "ø7"}


@st.composite
def marked_notes(draw: st.DrawFn, note: ScoreNote) -> ScoreNote:
    """A note at any place near the staff, with signs and a degree or without."""
    if note.pitch is None:
        return note
    pitch = Pitch(draw(names(double=True)), draw(st.integers(3, 6)))
    marks = Mark.NONE
    for mark in draw(st.sets(st.sampled_from(MARKS), max_size=2)):
        marks |= mark
    degree = draw(st.sampled_from(("", "", "♭7", "♯11")))
    return ScoreNote(pitch, note.beats, marks, degree, draw(st.sampled_from((None, *Dynamic))))


@st.composite
def symbols_in(draw: st.DrawFn, meter: Meter) -> tuple[ChordText, ...]:
    """None to three symbols at places on the grid of eighths, or N.C."""
    places = sorted(draw(st.sets(st.integers(0, int(meter.bar_beats * 2) - 1), max_size=3)))
    symbols = []
    for place in places:
        kind = draw(st.sampled_from((*KINDS, "none")))
        at = Fraction(place, 2)
        if kind == "none":
            symbols.append(ChordText(at, plain="N.C.", kind="none"))
        else:
            root = str(draw(names()))
            symbols.append(ChordText(at, kind=kind, root=root, extension=KINDS[kind]))
    return tuple(symbols)


def tied(notes: list[ScoreNote], place: int) -> None:
    """Tie a note to the one after it, which becomes the same note."""
    first, second = notes[place], notes[place + 1]
    if first.pitch and second.pitch:
        notes[place] = replace(first, marks=first.marks | Mark.TIE)
        notes[place + 1] = replace(second, pitch=first.pitch)


@st.composite
def roads(draw: st.DrawFn) -> Road:
    """Repeats, endings, sections and signs, sense or not; most bars have none."""
    if draw(st.integers(0, 2)):
        return Road()
    endings = st.sampled_from(((), (1,), (2,), (1, 2)))
    signs = ("segno", "coda", "to coda", "fine", "D.C.", "D.S.")
    return Road(
        forward=draw(st.booleans()),
        backward=draw(st.sampled_from((0, 2, 3))),
        ending=draw(endings),
        ending_stops=draw(endings),
        section=draw(st.sampled_from(("", "A", "Bridge <2>"))),
        signs=tuple(draw(st.sets(st.sampled_from(signs), max_size=2))),
    )


@st.composite
def whole_scores(draw: st.DrawFn, *, max_bars: int = 4, with_roads: bool = True) -> Score:
    """Parts with everything: any player, key, metre, marks, ties, symbols and roads."""
    meter = draw(st.one_of(meters(), st.sampled_from(GROUPED)))
    bars = []
    for number in range(1, draw(st.integers(1, max_bars)) + 1):
        bar = draw(rhythmic_bars(number, meter))
        notes = [draw(marked_notes(note)) for note in bar.notes]
        for place in draw(st.sets(st.integers(0, max(0, len(notes) - 2)), max_size=2)):
            if place + 1 < len(notes):
                tied(notes, place)
        road = draw(roads()) if with_roads else Road()
        barline = draw(st.sampled_from(Barline))
        chords = draw(symbols_in(meter))
        bars.append(replace(bar, notes=tuple(notes), chords=chords, road=road, barline=barline))
    player = draw(st.sampled_from(list(INSTRUMENTS.values())))
    return part(
        *bars,
        fifths=draw(st.integers(-7, 7)),
        clef=player.clef,
        rise=player.rise,
        label=player.label,
        program=player.program,
        tempo_bpm=draw(st.sampled_from((None, 60.0, 132.5))),
        swing=draw(st.sampled_from((None, True, False))),
    )
