"""Two triads that share no note, in turn: six notes that tell the chord and its colours.

Of all pairs of triads in a chord's scale those are taken whose notes lie by turns, so that
from any note of one the next above belongs to the other. Best is a pair without the fourth over
a major third; then one of two major triads; then one with the third and the seventh of the
chord, and of triads a whole step apart. So a minor seventh has the major triads on its third
and its fourth, an altered dominant those on its flat fifth and its flat sixth.

Source: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from itertools import permutations
from typing import NamedTuple

from halfstep.etude.rules import IN_SCALE, NOT_THREE_EQUAL
from halfstep.etude.sentences import highest
from halfstep.etude.step import InRuns, Step
from halfstep.etude.step_scales import degree_over, scale_of_names
from halfstep.etude.vocabulary.pattern import Pattern, made_of_figures, pattern_layout
from halfstep.etude.vocabulary.pattern_words import figure_named, scales_named, where_none_fits
from halfstep.etude.vocabulary.pentatonics import fourth_avoided
from halfstep.harmony.analysis import AnalysedChord, Analysis
from halfstep.harmony.scales import Mode, Scale

Triad = frozenset[int]
"""Pitch classes."""
KINDS = {"major": (0, 4, 7), "minor": (0, 3, 7), "augmented": (0, 4, 8), "diminished": (0, 3, 6)}
"""The triads in semitones, those that are liked best first."""
FIGURES = ((0, 2, 4), (4, 2, 0), (2, 0, 4), (2, 4, 0))


class TriadPair(NamedTuple):
    """Two triads, each with its root as a pitch class and its kind."""

    roots: tuple[int, int]
    kinds: tuple[str, str]
    notes: tuple[Triad, Triad]


def triad_pair_over(_analysis: Analysis, chord: AnalysedChord) -> Scale | None:
    """The six notes of the pair of a chord; None where its scale has no pair."""
    spelled = {name.pitch_class: name for name in chord.scale.names}
    pairs = list(pairs_in(frozenset(spelled)))
    if not pairs:
        return None
    classes = frozenset[int]().union(*best_pair(chord, pairs).notes)
    root = chord.span.symbol.root
    names = tuple(spelled[pitch_class] for pitch_class in sorted(classes))
    degrees = tuple(degree_over(root, name) for name in names)
    return scale_of_names(Mode("two triads", degrees), root, names, root)


def best_pair(chord: AnalysedChord, pairs: Sequence[TriadPair]) -> TriadPair:
    """The pair that tells the chord best."""
    avoided = fourth_avoided(chord)
    guides = {tone.name.pitch_class for tone in chord.guides}
    root = chord.span.symbol.root.pitch_class

    def worth(pair: TriadPair) -> tuple[bool, int, int, bool, int]:
        classes = pair.notes[0] | pair.notes[1]
        rise = (pair.roots[1] - pair.roots[0]) % 12
        return (
            avoided not in classes,
            -sum(list(KINDS).index(kind) for kind in pair.kinds),
            len(guides & classes),
            rise == 2,
            -((pair.roots[0] - root) % 12),
        )

    return max(pairs, key=worth)


@lru_cache(256)
def pairs_in(classes: frozenset[int]) -> tuple[TriadPair, ...]:
    """Every pair of triads of a scale whose notes lie by turns."""
    triads = [
        (root, kind, frozenset((root + rise) % 12 for rise in rises))
        for root in sorted(classes)
        for kind, rises in KINDS.items()
        if all((root + rise) % 12 in classes for rise in rises)
    ]
    return tuple(
        TriadPair((low, high), (kind, other_kind), (one, other))
        for (low, kind, one), (high, other_kind, other) in permutations(triads, 2)
        if _by_turns(one, other)
    )


def _by_turns(one: Triad, other: Triad) -> bool:
    """True for six notes that belong to the two triads in turn."""
    notes = sorted(one | other)
    return len(notes) == 6 and set(notes[::2]) in (one, other)


PATTERN = Pattern(FIGURES, in_threes=True, moves=(1, -1))

STEP = Step(
    name="triad-pairs",
    title="Triad pairs",
    task="Two triads over each chord that share no note, one after the other. "
    "Sing each from its lowest note first.",
    writing=InRuns(
        layout=pattern_layout(PATTERN),
        notices=where_none_fits("where the scale has no pair of triads, the cells run through it"),
        untold=0.5,
        again=2.0,
        off_root=0.0,
    ),
    rules=(
        IN_SCALE,
        NOT_THREE_EQUAL,
        made_of_figures(PATTERN, "every bar goes from one triad of its pair to the other"),
    ),
    sentences=(scales_named, figure_named, highest),
    is_study=True,
    scale_over=triad_pair_over,
)
