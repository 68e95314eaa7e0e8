"""How do the voices of a chord lead to those of the next? Shells that lie under the hand.

A shell is the third and the seventh of a chord, or what stands for them; on a guitar the root
lies below them from the second level on. A keyboard leaves the root to the bass.

Conventions
-----------
- A voicing has MIDI numbers, the lowest first; its upper voices are the two highest.
- The line is found by an exact search over all voicings of all chords.

Source: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import permutations, product

import numpy as np

from halfstep.errors import BriefError
from halfstep.etude.costs import TEMPERATURE
from halfstep.etude.etude_brief import Brief
from halfstep.etude.slots import Piece
from halfstep.etude.vocabulary.fretboard import fingering_of
from halfstep.harmony.analysis import AnalysedChord, Analysis
from halfstep.instruments import Striking
from halfstep.level import Level
from halfstep.random_stream import RandomStream
from halfstep.search import Chain, Costs, NoPath, sample_path

Voicing = tuple[int, ...]
OCTAVE, FIFTH = 12, 7
UPPER = 2
"""Voices that are led; a root below them goes where the chord goes."""
ROOT_MOTION, FAR = 0.1, 0.2
"""For each semitone that the root moves, and that a voicing lies from the middle of the range."""
STAYS = 0.5
"""For a voicing that is struck again in the next bar."""


def shell_classes(chord: AnalysedChord) -> tuple[int, ...]:
    """The pitch classes of the two upper voices: third and seventh, else what the chord has."""
    root = chord.span.symbol.root.pitch_class
    guides = [tone.name.pitch_class for tone in chord.guides]
    others = [tone.name.pitch_class for tone in reversed(chord.core)]
    rest = [pc for pc in (*others, root) if pc not in guides]
    return tuple(dict.fromkeys((*guides, *rest)))[:UPPER]


def has_root(brief: Brief) -> bool:
    """True for players who have the root below the shell."""
    return brief.instrument.striking is Striking.STRINGS and brief.level is not Level.BEGINNER


def voicings_of(chord: AnalysedChord, brief: Brief) -> list[Voicing]:
    """Every voicing of a chord that lies in the player's range and under the hand."""
    root = chord.span.symbol.root.pitch_class
    below = (root,) if has_root(brief) else ()
    orders = ((*below, *order) for order in permutations(shell_classes(chord)))
    choices = (_placed(order, brief) for order in orders)
    return [voicing for placed in choices for voicing in placed if lies_under_hand(voicing, brief)]


def _placed(classes: Sequence[int], brief: Brief) -> Iterator[Voicing]:
    """Notes of those classes in range, each above the one before."""
    midis = [n for n in range(brief.concert_low, brief.concert_high + 1) if brief.has(n)]
    columns = ([midi for midi in midis if midi % 12 == pitch_class] for pitch_class in classes)
    return (voicing for voicing in product(*columns) if list(voicing) == sorted(set(voicing)))


def lies_under_hand(voicing: Voicing, brief: Brief) -> bool:
    """True for upper voices within an octave, on a guitar in one position of the hand.

    Who plays one note after the other has them within a fifth.
    """
    striking = brief.instrument.striking
    if voicing[-1] - voicing[-UPPER] > (FIFTH if striking is Striking.ONE_NOTE else OCTAVE):
        return False
    return striking is not Striking.STRINGS or fingering_of(voicing) is not None


def voicing_line(
    analysis: Analysis, brief: Brief, cut: Sequence[Piece], rng: RandomStream
) -> list[Voicing | None]:
    """A voicing for each chord in each bar, None in silence.

    Raises
    ------
    BriefError
        When a chord has none in the player's range, or none can be reached.
    """
    choices = [_choices(analysis.chords[piece.chord], brief) for piece in cut]
    middle = (brief.concert_low + brief.concert_high) / 2
    ones = [
        np.array([FAR * abs(sum(way[-UPPER:]) / UPPER - middle) if way else 0.0 for way in ways])
        for ways in choices
    ]
    twos: list[Costs | None] = [None]
    for place in range(1, len(cut)):
        same = cut[place].chord == cut[place - 1].chord
        twos.append(_motions(choices[place - 1], choices[place], same=same))
    chain = Chain(ones, twos, [None] * len(cut))
    try:
        path = sample_path(chain, temperature=TEMPERATURE, rng=rng)
    except NoPath as blocked:
        symbol = analysis.chords[cut[blocked.place].chord].span.symbol
        raise BriefError(
            f"no voicing of {symbol} is near enough to the one before; widen the range"
        ) from None
    return [ways[place] for ways, place in zip(choices, path, strict=True)]


def _choices(chord: AnalysedChord, brief: Brief) -> Sequence[Voicing | None]:
    if chord.silent:
        return [None]
    choices = voicings_of(chord, brief)
    if not choices:
        raise BriefError(
            f"no voicing of {chord.span.symbol} lies under the hand in the range of "
            f"{brief.instrument.key} at level {brief.level}; widen the range"
        )
    return choices


def _motions(old: Sequence[Voicing | None], new: Sequence[Voicing | None], *, same: bool) -> Costs:
    """What it costs to go from each voicing to each of the next; more than a fifth is forbidden."""
    if None in old or None in new:
        return np.zeros((len(old), len(new)))
    moves = np.abs(np.array(old)[:, None] - np.array(new)[None])
    upper = moves[..., -UPPER:]
    table = upper.sum(axis=-1) + ROOT_MOTION * moves[..., 0]
    table += STAYS * (same & (moves.sum(axis=-1) == 0))
    return np.asarray(np.where(upper.max(axis=-1) > FIFTH, np.inf, table))


def upper_moves(one: Voicing, other: Voicing) -> list[int]:
    """How far each upper voice moves, in semitones."""
    return [abs(b - a) for a, b in zip(one[-UPPER:], other[-UPPER:], strict=True)]
