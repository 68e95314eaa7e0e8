"""How is a change said and drawn? In the words of a reader, and as old notes over new ones.

Where the scale stays the chord still moves: what is told then is where its guide tones go.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

from halfstep.harmony.changes import Change, Motion
from halfstep.part.transposed_part import Part
from halfstep.pitch import Name, practical
from halfstep.wording import joined_by_and

SCALE_STAYS = "the scale stays"


class ToldChange(NamedTuple):
    """What is told where a chord follows another one.

    Attributes
    ----------
    moves : tuple of (str, str)
        The notes that change, or where the scale stays the guide tones that go: old and new, empty
        where there is none.
    scale_stays : bool
    spoken : str
        The same as it is read aloud.
    """

    moves: tuple[tuple[str, str], ...]
    scale_stays: bool
    spoken: str

    @property
    def printed(self) -> str:
        """As it is printed in a line: ``C♯ → C♮, +B♭``."""
        moves = ", ".join(" → ".join(filter(None, move)) for move in self.moves)
        if not self.scale_stays:
            return moves
        return f"{SCALE_STAYS}, {moves}" if moves else SCALE_STAYS


def told_change(part: Part, chord: int) -> ToldChange | None:
    """What is told where a chord of a part begins; None where nothing changes into it."""
    if part.analysis.changing_into(chord) is None:
        return None
    return told_between(part, (chord - 1) % len(part.analysis.chords), chord)


def told_between(part: Part, before: int, chord: int) -> ToldChange | None:
    """What is told where a chord of a part follows another one; None in silence.

    Examples
    --------
    Minor seventh to dominant a fourth higher: the seventh falls to the third, by a half step.
    Common practice, no source.

    >>> from halfstep.harmony.analysis import analyse
    >>> from halfstep.instruments import INSTRUMENTS
    >>> from halfstep.part.transposed_part import part_for
    >>> from halfstep.progression.form import played
    >>> from halfstep.progression.notations.text_reader import read_sheet_text
    >>> analysis = analyse(played(read_sheet_text("| Bm7 | E7 | Amaj7 |")))
    >>> told = told_change(part_for(analysis, INSTRUMENTS["concert"]), 1)
    >>> told.printed, told.spoken
    ('the scale stays, A → G♯', 'the scale stays; A natural goes to G sharp')
    """
    change = part.change_from(before, chord)
    if change is None:
        return None
    if moves := tuple(drawn_moves(change)):
        return ToldChange(moves, scale_stays=False, spoken=change_in_words(change))
    guides = [
        Motion(practical(motion.old), practical(motion.new))
        for motion in part.guide_tones_from(before, chord)
        if motion.semitones
    ]
    said = [f"{note_in_words(m.old)} goes to {note_in_words(m.new)}" for m in guides]
    spoken = "; ".join(filter(None, (SCALE_STAYS, joined_by_and(said))))
    return ToldChange(tuple(_drawn(guides)), scale_stays=True, spoken=spoken)


def drawn_moves(change: Change) -> Iterator[tuple[str, str]]:
    """Each note that changes as it stands on a bar line: old and new, empty where there is none.

    >>> from halfstep.harmony.changes import change_between
    >>> from halfstep.harmony.scales import scale_over
    >>> from halfstep.pitch import parse_name
    >>> first = scale_over(parse_name("A"), "Mixolydian")
    >>> [*drawn_moves(change_between(first, scale_over(parse_name("D"), "Mixolydian")))]
    [('C♯', 'C♮')]
    """
    yield from _drawn((*change.half_steps, *change.steps))
    yield from (("", f"+{name}") for name in change.new)
    yield from ((f"−{name}", "") for name in change.leaves)


def _drawn(motions: Sequence[Motion]) -> Iterator[tuple[str, str]]:
    for motion in motions:
        is_same_letter = motion.old.letter == motion.new.letter
        yield _with_natural(motion.old, is_same_letter), _with_natural(motion.new, is_same_letter)


def _with_natural(name: Name, is_same_letter: bool) -> str:
    """The name, with a natural sign where only a sign goes."""
    return f"{name}♮" if is_same_letter and not name.alteration else str(name)


def change_in_words(change: Change) -> str:
    """What changes, as it is read aloud: ``B natural becomes B flat``.

    >>> from halfstep.harmony.changes import change_between
    >>> from halfstep.harmony.scales import scale_over
    >>> from halfstep.pitch import parse_name
    >>> first = scale_over(parse_name("A"), "Mixolydian")
    >>> change_in_words(change_between(first, scale_over(parse_name("D"), "Mixolydian")))
    'C sharp becomes C natural'
    """
    phrases = [
        f"{note_in_words(m.old)} becomes {note_in_words(m.new)}"
        for m in (*change.half_steps, *change.steps)
    ]
    phrases += [f"{note_in_words(name)} is new" for name in change.new]
    phrases += [f"{note_in_words(name)} is left out" for name in change.leaves]
    return joined_by_and(phrases)


_SIGNS_ALOUD = {-2: "double flat", -1: "flat", 0: "natural", 1: "sharp", 2: "double sharp"}


def note_in_words(name: Name) -> str:
    """A note as it is read aloud: ``B flat``."""
    return f"{name.ascii[0]} {_SIGNS_ALOUD.get(name.alteration, name.ascii[1:])}"
