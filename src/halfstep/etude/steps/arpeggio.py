"""The tones of each chord in order, up and down, or one way and then the other.

What the step leaves open, which note is long and whether a run goes up or down first, is
chosen by the seed: seed 0 has the plainest, every other seed another one, and what comes
again in the form comes otherwise.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction

from halfstep.etude.chord_runs import (
    DOWN,
    UP,
    UP_AND_DOWN,
    ChordRun,
    folded_shapes,
    ladder_of,
    pieces_by_chord,
    rest_of,
)
from halfstep.etude.etude_brief import Brief
from halfstep.etude.etude_line import Notice
from halfstep.etude.etude_notes import EtudeNote
from halfstep.etude.palette import Palette
from halfstep.etude.rhythm_grammar import held_last
from halfstep.etude.rules import CORE_TONES, IN_SCALE, NOT_THREE_EQUAL, TONES_IN_ORDER
from halfstep.etude.run_notices import off_its_root, remarks_by_chord, tones_left_out
from halfstep.etude.seed_choices import manner, times_over_chart
from halfstep.etude.sentences import breaths, changes, thirds
from halfstep.etude.slots import Piece, closes_phrase, slots_of
from halfstep.etude.step import InRuns, Step
from halfstep.harmony.analysis import Analysis
from halfstep.level import Level
from halfstep.meter import EIGHTH, Feel
from halfstep.random_stream import RandomStream

DOWN_AND_UP = (3, 2, 1, 0, 1, 2, 3)


def arpeggios(
    cut: Sequence[Piece],
    palettes: Sequence[Palette | None],
    ends: set[int],
    brief: Brief,
    _rng: RandomStream,
) -> list[ChordRun]:
    """Step 1: up and down, or one way and then the other.

    Phrases end on the way down, on a note that is held. A beginner has quarters, and goes
    one way only while a chord lasts a bar or less.
    """
    runs: list[ChordRun] = []
    up = True
    times = times_over_chart(cut, palettes, brief.seed)
    for number, (stop, group) in enumerate(pieces_by_chord(cut)):
        up = up or len(group) > 1
        entry = 0
        for place, piece in enumerate(group, stop - len(group)):
            before = times[place]
            palette = palettes[piece.chord]
            if palette is None:
                runs.append(rest_of(piece))
                continue
            closes = closes_phrase(piece, ends)
            if len(group) == 1 and piece.beats >= 3 and brief.level is not Level.BEGINNER:
                rhythms = _up_and_down(piece, brief, closes=closes)
            else:
                turned = manner(brief.seed, number + before, 0, 2) > 0
                rises = up != (len(group) == 1 and turned)
                rhythms = _one_way(piece, brief, up=rises, closes=closes, last=piece is group[-1])
            lengths, offsets = rhythms[manner(brief.seed, place, before, len(rhythms))]
            slots = slots_of(piece, piece.start, lengths, palette, entry)
            entry += len(slots)
            runs.append(ChordRun(slots, folded_shapes(offsets), ladder_of(palette.core)))
            up = not up
    return runs


_Way = tuple[list[Fraction], tuple[int, ...]]
"""Lengths, and the tones of the arpeggio that have them."""


def _up_and_down(piece: Piece, brief: Brief, *, closes: bool) -> list[_Way]:
    """Up and down in eighths with one note held, the plainest first: 1 3 5 7 5 3 1."""
    eighths = int(piece.beats // EIGHTH)
    count = min(len(UP_AND_DOWN), eighths)
    rhythms = [(_with_long(piece.beats, count, count - 1), UP_AND_DOWN[:count])]
    fewer = min(count, eighths - 1)
    rhythms += [(_with_long(piece.beats, fewer, n), UP_AND_DOWN[:fewer]) for n in (0, 4, 2)]
    if closes:
        held = _held(piece, rhythms[0])
        rhythms = [held, *_ending(piece, [*rhythms, *_only_down(piece)])]
    else:
        rhythms.append((rhythms[0][0], DOWN_AND_UP[:count]))
    if piece.beats == 4 and brief.level is Level.ADVANCED and brief.feel is Feel.SWING:
        rhythms.append(
            ([Fraction(1, 3)] * 3 + [EIGHTH, EIGHTH, 2 * EIGHTH, 2 * EIGHTH], UP_AND_DOWN)
        )
    return _grouped(piece, rhythms)


def _only_down(piece: Piece) -> Iterator[_Way]:
    """For bars that have no room to go up and down and to hold the last note."""
    if piece.beats < EIGHTH * len(UP_AND_DOWN):
        yield _in_quarters(piece.beats), DOWN
        pulse = piece.bar.meter.pulse_beats
        if piece.bar.meter.compound and piece.beats > pulse:
            yield [pulse * 2 / 3, pulse / 3, piece.beats - pulse], DOWN[1:]


def _with_long(beats: Fraction, count: int, place: int) -> list[Fraction]:
    """Eighths, one of them twice as long, and the rest of the time for the last."""
    lengths = [EIGHTH] * count
    left = beats - EIGHTH * count
    if place < count - 1:
        lengths[place] += min(left, EIGHTH)
        left -= min(left, EIGHTH)
    return [*lengths[:-1], lengths[-1] + left]


def _one_way(piece: Piece, brief: Brief, *, up: bool, closes: bool, last: bool) -> list[_Way]:
    """Four tones one way, or as many as there are eighths; the plainest first."""
    beginner = brief.level is Level.BEGINNER
    grouped = piece.bar.meter.compound and not piece.beats % piece.bar.meter.pulse_beats
    plain = _plainly(piece) if beginner else _in_quarters(piece.beats)
    plain = _in_pulses(piece) if grouped else plain
    count = len(plain)
    tones = DOWN[-count:] if not up and (brief.seed or count >= len(DOWN)) else UP[:count]
    rhythms = [(lengths, tones) for lengths in ([plain] if beginner else _swayed(plain))]
    triplet = brief.level is Level.ADVANCED or (
        closes and not beginner
    )  # held after all four tones
    if piece.beats == 2 and triplet and brief.feel is Feel.SWING:
        rhythms.append(([Fraction(1, 3)] * 3 + [Fraction(1)], tones))
    if closes and (last or plain[-1] < piece.bar.meter.tempo_beats):
        rhythms = [
            _held(piece, rhythms[0]),
            *((lengths_down, DOWN) for lengths_down, _ in _ending(piece, rhythms)),
        ]
    elif closes:
        rhythms = [way for way in rhythms if way[0][-1] >= piece.bar.meter.tempo_beats]
    return _grouped(piece, rhythms)


def _swayed(plain: Sequence[Fraction]) -> Iterator[list[Fraction]]:
    """The lengths as they are, then with the long ones elsewhere, or two of equal ones dotted."""
    yield list(plain)
    for turn in range(1, len(plain)):
        yield [*plain[turn:], *plain[:turn]]
    for place in range(0, len(plain) - 1, 2):
        if plain[place] == plain[place + 1] == 1:
            dotted = plain[place] + EIGHTH, plain[place + 1] - EIGHTH
            yield [*plain[:place], *dotted, *plain[place + 2 :]]


def _held(piece: Piece, way: _Way) -> _Way:
    """The end of a way up and down, its last note held."""
    lengths = held_last(way[0], piece.bar.meter.tempo_beats)
    return lengths, UP_AND_DOWN[-len(lengths) :]


def _ending(piece: Piece, rhythms: Sequence[_Way]) -> Iterator[_Way]:
    """Those that come down to a note of a beat or more."""
    for lengths, offsets in rhythms:
        if lengths[-1] >= piece.bar.meter.tempo_beats and len(lengths) > 2:
            if offsets[-1] == 0 or sorted(offsets) == sorted(DOWN):
                yield lengths, offsets


def _grouped(piece: Piece, rhythms: Sequence[_Way]) -> list[_Way]:
    """The ways without doubles and, but for the first, what crosses groups of the metre."""
    kept_rhythms: list[_Way] = []
    for way in rhythms:
        kept = not kept_rhythms or (_keeps_groups(piece, way[0]) and len(way[0]) == len(way[1]))
        kept_rhythms += [way] if kept and way not in kept_rhythms else []
    return kept_rhythms


def _keeps_groups(piece: Piece, lengths: Sequence[Fraction]) -> bool:
    """In compound metres every note fits into a group or begins one; a triplet begins a beat."""
    pulse = piece.bar.meter.tempo_beats
    at = piece.start - piece.bar_start
    if not piece.bar.meter.compound:
        return not at % pulse or all(length.denominator != 3 for length in lengths)
    for length in lengths:
        if at % pulse and at // pulse != (at + length - EIGHTH / 4) // pulse:
            return False
        at += length
    return True


def _in_quarters(beats: Fraction) -> list[Fraction]:
    """Quarters where they fit, eighths at the end where they do not."""
    count = max(1, min(4, int(beats // EIGHTH)))
    quarters = min(count, max(0, int(2 * beats) - count))
    lengths = [Fraction(1)] * quarters + [EIGHTH] * (count - quarters)
    lengths[-1] += beats - sum(lengths, Fraction(0))
    return lengths


def _plainly(piece: Piece) -> list[Fraction]:
    """Quarters, four at most; what is left of the time belongs to the last."""
    count = max(1, min(len(UP), int(piece.beats)))
    return [Fraction(1)] * (count - 1) + [piece.beats - (count - 1)]


def _in_pulses(piece: Piece) -> list[Fraction]:
    """Four notes over dotted pulses, the first ones divided long and short; three over one."""
    pulse = piece.bar.meter.pulse_beats
    count = int(piece.beats / pulse)
    if count == 1:
        return [pulse / 3] * 3
    divided = max(0, 4 - count)
    lengths = [2 * pulse / 3, pulse / 3] * divided + [pulse] * (min(count, 4) - divided)
    lengths[-1] += piece.beats - sum(lengths, Fraction(0))
    return lengths


def notices(analysis: Analysis, brief: Brief, notes: Sequence[EtudeNote]) -> tuple[Notice, ...]:
    """Which arpeggios do not stand on their root, and which lack a tone."""
    off_root = remarks_by_chord(off_its_root)(analysis, brief, notes)
    return (*off_root, *tones_left_out(analysis, brief, notes))


STEP = Step(
    name="arpeggio",
    title="Arpeggio",
    task="Play the tones of each chord in order, up and down. "
    "Say the name of the third before you play it.",
    writing=InRuns(layout=arpeggios, notices=notices),
    rules=(IN_SCALE, NOT_THREE_EQUAL, CORE_TONES, TONES_IN_ORDER),
    sentences=(thirds, changes, breaths),
)
