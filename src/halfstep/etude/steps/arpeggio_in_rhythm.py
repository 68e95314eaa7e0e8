"""The tones of each chord in order, some repeated, in a rhythm that varies."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator, Sequence
from fractions import Fraction
from itertools import pairwise

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
from halfstep.etude.etude_line import EtudeLine
from halfstep.etude.etude_notes import EtudeNote
from halfstep.etude.etude_words import bars_in_words, listing, texts_in_bars
from halfstep.etude.palette import Palette
from halfstep.etude.rhythm_grammar import filled_in, held_last
from halfstep.etude.rules import (
    CORE_TONES,
    IN_SCALE,
    TONES_IN_ORDER,
    LineRule,
    bar_starts,
    sounding,
)
from halfstep.etude.run_notices import off_its_root, remarks_by_chord
from halfstep.etude.sentences import EXAMPLES, PartLine
from halfstep.etude.slots import Piece, closes_phrase, slots_of
from halfstep.etude.step import InRuns, Step
from halfstep.random_stream import RandomStream

GUIDES_OFTEN = 4.0
"""How much rather the second or fourth tone is repeated, which are mostly third and seventh."""
LONGEST_WITHOUT_REPEAT = 6
"""Notes of an arpeggio in rhythm before one must be repeated."""
_TRIES = 20
"""Draws until a rhythm whose last note is held differs from the one before."""


def arpeggios_in_rhythm(
    cut: Sequence[Piece],
    palettes: Sequence[Palette | None],
    ends: set[int],
    brief: Brief,
    rng: RandomStream,
) -> list[ChordRun]:
    """Step 2: the tones in order, some repeated, in a rhythm that varies.

    Phrases end on the way down, on a note that is held.
    """
    runs: list[ChordRun] = []
    rhythm: list[Fraction] = []
    unrepeated, up = 0, True
    for _, group in pieces_by_chord(cut):
        up = up or len(group) > 1
        entry = 0
        for piece in group:
            palette = palettes[piece.chord]
            if palette is None:
                runs.append(rest_of(piece))
                continue
            closes = closes_phrase(piece, ends)
            rhythm = _rhythm(piece, brief, rng, rhythm, held=closes)
            again = unrepeated + len(rhythm) > LONGEST_WITHOUT_REPEAT
            offsets = repeated(len(rhythm), up=up, again=again, rng=rng, home=closes)
            unrepeated = 0 if has_repeat(offsets) else unrepeated + len(rhythm)
            slots = slots_of(piece, piece.start, rhythm, palette, entry)
            entry += len(slots)
            runs.append(ChordRun(slots, folded_shapes(offsets), ladder_of(palette.core)))
            up = not up
    return runs


def _rhythm(
    piece: Piece,
    brief: Brief,
    rng: RandomStream,
    before: list[Fraction],
    *,
    held: bool,
) -> list[Fraction]:
    """A drawn rhythm for a piece that differs from the one before, if asked with a held end."""
    meter = piece.bar.meter
    for _ in range(_TRIES):
        at = piece.start - piece.bar_start
        lengths = filled_in(
            meter, at, piece.beats, brief.level, rng, not_like=before, feel=brief.feel
        )
        lengths = held_last(lengths, meter.tempo_beats) if held else lengths
        if lengths != before:
            break
    return lengths


def repeated(
    count: int, *, up: bool, again: bool, rng: RandomStream, home: bool = False
) -> tuple[int, ...]:
    """``count`` notes on the four tones in order, some of them repeated.

    Parameters
    ----------
    count : int
        More than eight notes go up and come down again.
    up : bool
    again : bool
        Repeat a tone even where there are few notes, at the price of the last tone.
    rng : RandomStream
        Chooses which tones are repeated.
    home : bool
        Come down to the lowest tone, whatever ``up`` says.
    """
    tones: tuple[int, ...] = UP_AND_DOWN if count > 8 else UP if up or count < 4 else DOWN
    different = min(len(tones), count - (1 if again and count > 1 else 0))
    if home and count <= 8:
        tones = DOWN[-different:]
    times = [1] * different
    while sum(times) < count:
        fewest = min(times)
        open_places = [
            place for place, count_of_tone in enumerate(times) if count_of_tone == fewest
        ]
        likely = [GUIDES_OFTEN if tones[place] % 2 else 1.0 for place in open_places]
        times[rng.choice(open_places, [often / sum(likely) for often in likely])] += 1
    return tuple(
        tone
        for tone, count_of_tone in zip(tones, times, strict=False)
        for _ in range(count_of_tone)
    )


def has_repeat(offsets: Sequence[int]) -> bool:
    """True when two neighbours are equal."""
    return any(old == new for old, new in pairwise(offsets))


def rhythm_varies(etude: EtudeLine) -> Iterator[EtudeNote]:
    """Neighbouring stretches of a chord in a bar never have the same rhythm."""
    for old, new in pairwise(_by_bar_and_chord(etude)):
        if len(old) > 2 and [n.beats for n in old] == [n.beats for n in new]:
            yield new[0]


def _by_bar_and_chord(etude: EtudeLine) -> list[list[EtudeNote]]:
    starts = bar_starts(etude)
    groups: dict[tuple[int, int], list[EtudeNote]] = {}
    for note, _ in sounding(etude):
        groups.setdefault((bisect_right(starts, note.onset), note.chord), []).append(note)
    return list(groups.values())


def notes_repeat(etude: EtudeLine) -> Iterator[EtudeNote]:
    """Somewhere a tone is repeated, when there is room for more than one on a chord."""
    if etude.brief.pinned:  # the teacher's notes may leave no room for it
        return
    notes = sounding(etude)
    roomy = sum(len(group) for group in _by_bar_and_chord(etude) if len(group) > 1)
    if roomy > 8 and not any(old == new for (_, old), (_, new) in pairwise(notes)):
        yield notes[0][0]


def struck_again(line: PartLine) -> str:
    """Which tones are repeated."""
    again = [
        (line.name(new), line.bar(new))
        for old, new in line.joined()
        if old.pitch == new.pitch and old.chord == new.chord
    ]
    return f"Notes to repeat: {listing(texts_in_bars(again[:EXAMPLES]))}." if again else ""


def over_the_beat(line: PartLine) -> str:
    """Which bars have notes that begin off the beat and last into the next."""
    late_bars = []
    for note in line.notes:
        bar, start = line.placed(note)
        late = (note.onset - start) % bar.meter.pulse_beats
        if late and late + note.beats > bar.meter.pulse_beats:
            late_bars.append(line.bar(note))
    there = "there" if len(set(late_bars)) == 1 else "in each"
    return (
        f"Count through {bars_in_words(late_bars)}: a note {there} is held over the beat."
        if late_bars
        else ""
    )


STEP = Step(
    name="arpeggio-in-rhythm",
    title="Arpeggio in rhythm",
    task="The same tones in the same order, some of them repeated. "
    "Clap the rhythm first, then play it.",
    writing=InRuns(layout=arpeggios_in_rhythm, notices=remarks_by_chord(off_its_root)),
    rules=(
        IN_SCALE,
        CORE_TONES,
        TONES_IN_ORDER,
        LineRule("the rhythm varies from chord to chord", rhythm_varies),
        LineRule("tones are repeated", notes_repeat),
    ),
    sentences=(struck_again, over_the_beat),
)
