"""A lesson sheet as the program would fill it: invented chords for an invented class."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

from halfstep.harmony.tones import chord_tones
from halfstep.instruments import INSTRUMENTS, Clef
from halfstep.meter import Meter
from halfstep.pitch import Degree, Pitch, parse_degrees
from halfstep.progression.symbol import ChordSymbol, parse_symbol
from halfstep.render.handout import (
    ChangeEntry,
    ChordEntry,
    Handout,
    HandoutBar,
    LegendEntry,
    NamedTone,
    ScaleTone,
    StepEntry,
)
from halfstep.score import Barline, ChordText, Mark, Score, ScoreBar, ScoreNote

ALTO = INSTRUMENTS["alto-sax"]
EIGHT_BARS = "Dmaj7 | Bm7 | Em7 | A7 | F#m7 B7 | Em7 A7 | Dmaj7 G7 | Dmaj7"
TWELVE_BARS = "G7 | C7 | G7 | G7 | C7 | C#dim7 | G7 | E7b9 | Am7 | D7 | G7 E7b9 | Am7 D7"

_SCALES = {
    "": ("1 2 3 4 5 6 7", "Ionian", 0),
    "maj7": ("1 2 3 4 5 6 7", "Ionian", 0),
    "m7": ("1 2 b3 4 5 6 b7", "Dorian", -2),
    "7": ("1 2 3 4 5 6 b7", "Mixolydian", -1),
    "7b9": ("1 b2 3 4 5 b6 b7", "Phrygian dominant", -4),
    "m7b5": ("1 b2 b3 4 b5 b6 b7", "Locrian", -5),
    "dim7": ("1 2 b3 4 b5 b6 bb7 7", "whole-half diminished", None),
}
_REASONS = {
    "": "The home chord; its fourth is a passing note.",
    "maj7": "The home chord; its fourth is a passing note.",
    "m7": "The second chord of the key it leads to, so the key's own notes from here.",
    "7": "It falls a fifth to the next chord, so the ordinary dominant scale fits.",
    "7b9": "It falls a fifth to a minor chord, whose harmonic minor gives the lowered ninth.",
    "m7b5": "The second chord of a minor key.",
    "dim7": "Between two chords a half step apart; the scale fills the gaps in the chord.",
}
_STEPS = (
    ("Arpeggio", "Play the notes of each chord from the root up, then down again. Count aloud."),
    ("Arpeggio in rhythm", "The same notes in the same order, in a rhythm you can clap first."),
    ("Broken arpeggio", "Chord notes out of order; across the bar line go to the nearest one."),
    ("Scale", "Each chord's scale from root to root. Say the changing note before you play it."),
    ("Turning scale", "Move by step and turn where you like; begin on any note of the chord."),
    ("One line", "One unbroken line of eighths: at each change only the changing notes change."),
)


def text_of(symbol: ChordSymbol, at: Fraction = Fraction(0)) -> ChordText:
    """A symbol in the pieces a page prints."""
    if symbol.silent:
        return ChordText(at, plain="N.C.", kind="none")
    bass = str(symbol.bass) if symbol.bass else ""
    root, quality = str(symbol.root), symbol.quality_text
    return ChordText(
        at,
        root=root,
        quality=quality,
        extension=symbol.extension_text,
        bass=bass,
        plain="",
        kind="other",
    )


def read_bars(text: str) -> tuple[tuple[ChordSymbol, ...], ...]:
    """Bars of symbols; an empty bar holds the chord before."""
    return tuple(tuple(map(parse_symbol, bar.split())) for bar in text.split("|"))


def _placed(bar: tuple[ChordSymbol, ...]) -> tuple[ChordText, ...]:
    return tuple(text_of(s, Fraction(4 * n, len(bar))) for n, s in enumerate(bar))


def _ending(number: int, count: int) -> Barline:
    return Barline.FINAL if number == count else Barline.SINGLE


def _kind(symbol: ChordSymbol) -> str:
    ascii_text = symbol.ascii.split("/")[0][len(symbol.root.ascii) :].replace("(", "")
    return next((kind for kind in sorted(_SCALES, key=len)[::-1] if ascii_text == kind), "7")


def _scale(symbol: ChordSymbol) -> tuple[ScaleTone, ...]:
    degrees = parse_degrees(_SCALES[_kind(symbol)][0])
    chord = {tone.name for tone in chord_tones(symbol)}
    octave = 4 if symbol.root.letter < 4 else 3
    root = Pitch(symbol.root, octave)
    pitches = [(root + degree.interval, degree) for degree in (*degrees, Degree(8))]
    return tuple(ScaleTone(p, str(d.simple), p.name in chord) for p, d in pitches)


def _entry(symbol: ChordSymbol) -> ChordEntry:
    if symbol.silent:
        return ChordEntry(
            chord=text_of(symbol),
            tones=(),
            scale="",
            scale_tones=(),
            parent="",
            parent_fifths=None,
            reason="No chord: rest, or hold on.",
        )
    kind = _kind(symbol)
    _, name, shift = _SCALES[kind]
    fifths = None if shift is None else (symbol.root.fifths + shift + 5) % 12 - 5
    parent = "" if fifths is None else f"parent key with {abs(fifths)} {_signs(fifths)}"
    tones = tuple(NamedTone(str(t.name), str(t.degree)) for t in chord_tones(symbol))
    scale = f"{symbol.root} {name}"
    others = ("bebop dominant", "Lydian dominant", "half-whole diminished") if kind == "7" else ()
    return ChordEntry(
        chord=text_of(symbol),
        tones=tones,
        scale=scale,
        scale_tones=_scale(symbol),
        parent=parent,
        parent_fifths=fifths,
        reason=_REASONS[kind],
        others=others,
    )


def _signs(fifths: int) -> str:
    return ("sharp" if fifths > 0 else "flat") + ("" if abs(fifths) == 1 else "s")


def _change(before: ChordSymbol, after: ChordSymbol, bars: tuple[int, ...]) -> ChangeEntry:
    old = {t.pitch.name.letter: t.pitch.name for t in _scale(before)}
    new = {t.pitch.name.letter: t.pitch.name for t in _scale(after)}
    both = [(old[letter], new[letter]) for letter in sorted(old) if letter in new]
    moved = [(a, b) for a, b in both if a != b]
    instruction = " and ".join(f"the {a} becomes {b}" for a, b in moved[:3])
    return ChangeEntry(
        bars=tuple(map(str, bars)),
        before=text_of(before),
        after=text_of(after),
        instruction=f"only {instruction}" if moved else "nothing changes: the same seven notes",
        stays=tuple(str(a) for a, b in both if a == b),
        half_steps=tuple(f"{a} → {b}" for a, b in moved),
        new=tuple(str(new[letter]) for letter in new if letter not in old),
        keeps=not moved and set(new) <= set(old),
    )


def _score(bars: tuple[tuple[ChordSymbol, ...], ...], title: str, number: int) -> Score:
    beats = Fraction(1) if number == 1 else Fraction(1, 2)
    return Score(
        title=title,
        label=ALTO.label,
        key_fifths=2,
        mode="major",
        clef=Clef.TREBLE,
        rise=ALTO.rise,
        program=ALTO.program,
        tempo_bpm=120,
        swing=True,
        bars=tuple(
            ScoreBar(
                n, Meter(), _line(bar, beats, n), chords=_placed(bar), barline=_ending(n, len(bars))
            )
            for n, bar in enumerate(bars, 1)
        ),
    )


def _line(bar: tuple[ChordSymbol, ...], beats: Fraction, n: int) -> tuple[ScoreNote, ...]:
    count = int(4 / beats) // len(bar)
    notes: list[ScoreNote] = []
    for symbol in bar:
        scale = _scale(symbol) if not symbol.silent else ()
        run = scale[:count] if n % 2 else tuple(reversed(scale))[:count]
        for k in range(count):
            tone = run[k % len(run)] if run else None
            mark = Mark.CHANGING if tone and k == 2 else Mark.NONE
            notes.append(ScoreNote(tone.pitch if tone else None, beats, mark))
    return tuple(notes)


def handout_of(text: str = EIGHT_BARS, **changed: object) -> Handout:
    """A whole handout over the chords of ``text``."""
    title = str(changed.pop("title", "Two Doors Down"))
    bars = tuple(bar for bar in read_bars(text))
    held = bars[0]
    full = tuple(held := bar or held[-1:] for bar in bars)
    order = [(n, s) for n, bar in enumerate(full, 1) for s in bar]
    pairs: dict[tuple[ChordSymbol, ChordSymbol], list[int]] = {}
    for (_, before), (n, after) in pairwise(order):
        if before != after and not before.silent and not after.silent:
            pairs.setdefault((before, after), []).append(n)
    steps = tuple(
        StepEntry(
            number=n,
            title=name,
            task=task,
            manner="♩ = 120 · swing",
            score=_score(full, title, n),
            notices=_notices(n),
        )
        for n, (name, task) in enumerate(_STEPS, 1)
    )
    entries = {
        "title": title,
        "player": ALTO.label,
        "facts": "D major · 4/4 · ♩ = 120 · swing · intermediate · written pitch",
        "clef": Clef.TREBLE,
        "grid": tuple(
            HandoutBar(n, Fraction(4), _placed(bar), barline=_ending(n, len(bars)))
            for n, bar in enumerate(bars, 1)
        ),
        "chords": tuple(_entry(s) for s in dict.fromkeys(s for _, s in order)),
        "changes": tuple(_change(a, b, tuple(dict.fromkeys(at))) for (a, b), at in pairs.items()),
        "steps": steps,
        "legend": (
            LegendEntry("a changing note, new with this chord", sign="new"),
            LegendEntry("breathe here", sign="’"),
            LegendEntry("numbers under the notes: degrees of the chord"),
        ),
        "care": (
            "Rest for five minutes in every half hour. Stop if anything hurts, and ask your "
            "teacher or a doctor.",
            "Start the backing quietly: a saxophone in a small room is already loud enough to "
            "harm hearing over hours.",
        ),
    } | changed
    return Handout(**entries)  # type: ignore[arg-type]


def _notices(number: int) -> tuple[str, ...]:
    if number != 3:
        return ()
    return ("G7 starts on its third: the root position does not fit your range.",)
