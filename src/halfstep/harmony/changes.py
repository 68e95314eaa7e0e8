"""What changes? Between two chords, do not switch scale: switch the notes that differ.

Two scales are laid side by side. A note that both have stays; one with the same sound
and another name is only renamed; one whose letter is altered moves by a half step or a
step; what has no partner is new. Where letters leave notes without a partner that the
smallest motion would pair (E♭7 to Emaj7), the smallest motion pairs them.

Source: common practice, no source.
"""

from collections.abc import Callable, Sequence
from functools import lru_cache
from itertools import permutations
from typing import NamedTuple

from halfstep.harmony.scales import Scale
from halfstep.pitch import Name
from halfstep.wording import joined_by_and


class Motion(NamedTuple):
    """One note of the old scale and the note of the new one that takes its place."""

    old: Name
    new: Name

    @property
    def semitones(self) -> int:
        """Signed, -6 to 5."""
        return (self.new.pitch_class - self.old.pitch_class + 6) % 12 - 6


class Change(NamedTuple):
    """What happens between two scales.

    Attributes
    ----------
    stays : tuple of Name
    renamed : tuple of Motion
        Same sound, other name.
    half_steps, steps : tuple of Motion
        Notes that move by one semitone and by two.
    new : tuple of Name
        Notes without a partner in the old scale.
    leaves : tuple of Name
        Notes of the old scale without a partner in the new one.
    """

    stays: tuple[Name, ...]
    renamed: tuple[Motion, ...]
    half_steps: tuple[Motion, ...]
    steps: tuple[Motion, ...]
    new: tuple[Name, ...]
    leaves: tuple[Name, ...]

    @property
    def changing_notes(self) -> tuple[Name, ...]:
        """The notes a listener has not just heard: those that moved or are new."""
        return (*(m.new for m in self.half_steps), *(m.new for m in self.steps), *self.new)

    @property
    def instruction(self) -> str:
        """The shortest thing to tell a player."""
        return instruction(self, str)


def change_between(old: Scale, new: Scale) -> Change:
    """Lay two scales side by side.

    >>> from halfstep.harmony.scales import scale_over
    >>> from halfstep.pitch import parse_name
    >>> first = scale_over(parse_name("A"), "Mixolydian")
    >>> change_between(first, scale_over(parse_name("D"), "Mixolydian")).instruction
    'only the C♯ becomes C'
    """
    return _change(old.names, new.names)


@lru_cache(maxsize=4096)
def _change(old: tuple[Name, ...], new: tuple[Name, ...]) -> Change:
    left, right = list(old), list(new)
    stays = _take_pairs(left, right, lambda a, b: a == b)
    renamed = _take_pairs(left, right, lambda a, b: a.pitch_class == b.pitch_class)
    moved = _moves(tuple(left), tuple(right))
    return Change(
        tuple(motion.new for motion in stays),
        tuple(renamed),
        tuple(m for m in moved if abs(m.semitones) == 1),
        tuple(m for m in moved if abs(m.semitones) == 2),
        tuple(name for name in right if name not in {m.new for m in moved}),
        tuple(name for name in left if name not in {m.old for m in moved}),
    )


def _moves(left: tuple[Name, ...], right: tuple[Name, ...]) -> tuple[Motion, ...]:
    """Partners by letter, unless the smallest motion finds more of them."""
    free, wanted = list(left), list(right)
    lettered = _take_pairs(free, wanted, lambda a, b: a.letter == b.letter and _near(a, b))
    lettered += _smallest_motion(tuple(free), tuple(wanted))
    smallest = _smallest_motion(left, right)
    return tuple(lettered) if len(lettered) == len(smallest) else smallest


def _near(old: Name, new: Name) -> bool:
    return abs(Motion(old, new).semitones) <= 2


@lru_cache(maxsize=4096)
def _smallest_motion(left: tuple[Name, ...], right: tuple[Name, ...]) -> tuple[Motion, ...]:
    """As many partners within a step as there can be, and of those the least motion."""
    if not right:
        return ()
    first, rest = right[0], right[1:]
    pairings = [_smallest_motion(left, rest)]
    for old in left:
        if _near(old, first):
            others = tuple(name for name in left if name != old)
            pairings.append((Motion(old, first), *_smallest_motion(others, rest)))
    return min(pairings, key=lambda pairing: (-len(pairing), _semitones(pairing)))


def _semitones(motions: Sequence[Motion]) -> int:
    """How far the notes move in all."""
    return sum(abs(motion.semitones) for motion in motions)


def _take_pairs(
    left: list[Name], right: list[Name], fits: Callable[[Name, Name], bool]
) -> list[Motion]:
    """Remove the pairs that fit from both lists and return them in the new scale's order."""
    pairs = []
    for new in list(right):
        old = next((name for name in left if fits(name, new)), None)
        if old is not None:
            left.remove(old)
            right.remove(new)
            pairs.append(Motion(old, new))
    return pairs


def guide_tones(old: Sequence[Name], new: Sequence[Name]) -> tuple[Motion, ...]:
    """How the guide tones of one chord go to those of the next, by the least motion in all.

    Parameters
    ----------
    old, new : sequence of Name
        One or two guide tones each: the third and the seventh, or what stands for them.

    Examples
    --------
    >>> from halfstep.pitch import parse_name
    >>> names = lambda text: [parse_name(word) for word in text.split()]
    >>> [f"{m.old} {m.new}" for m in guide_tones(names("F C"), names("B F"))]
    ['F F', 'C B']
    """
    few, many = sorted((old, new), key=len)
    pairings = [list(zip(few, order, strict=True)) for order in permutations(many, len(few))]
    if len(old) > len(new):
        pairings = [[(b, a) for a, b in pairing] for pairing in pairings]
    motions = ([Motion(a, b) for a, b in pairing] for pairing in pairings)
    best = min(motions, key=_semitones)
    return tuple(sorted(best, key=lambda motion: old.index(motion.old)))


def instruction(change: Change, show: Callable[[Name], str]) -> str:
    """The shortest thing to tell a player, with names shown by ``show``.

    A player with a transposed part is told the written names.
    """
    moves = [*change.half_steps, *change.steps]
    phrases = [f"{show(m.old)} becomes {show(m.new)}" for m in moves]
    phrases += [f"{show(name)} is new" for name in change.new]
    many = len(phrases) >= 5
    if not phrases and not change.leaves:
        same = [f"{show(motion.old)} = {show(motion.new)}" for motion in change.renamed]
        return f"keep every note ({joined_by_and(same)})" if same else "keep every note"
    if not phrases:
        return f"leave out {joined_by_and([show(name) for name in change.leaves])}"
    phrases += [f"{show(name)} is left out" for name in change.leaves]
    if len(phrases) == 1:
        return f"only the {phrases[0]}"
    kept = [show(name) for name in change.stays]
    kept += [f"{show(m.old)} (= {show(m.new)})" for m in change.renamed]
    if many:
        return f"keep only {joined_by_and(kept)}; all else moves" if kept else "every note moves"
    return joined_by_and(phrases)
