"""How is a change said and drawn? In the words of a reader, and as old notes over new ones."""

from __future__ import annotations

from collections.abc import Iterator

from halfstep.harmony.changes import Change
from halfstep.pitch import Name
from halfstep.wording import joined_by_and


def drawn_moves(change: Change) -> Iterator[tuple[str, str]]:
    """Each note that changes as it stands on a bar line: old and new, empty where there is none.

    >>> from halfstep.harmony.changes import change_between
    >>> from halfstep.harmony.scales import scale_over
    >>> from halfstep.pitch import parse_name
    >>> first = scale_over(parse_name("A"), "Mixolydian")
    >>> [*drawn_moves(change_between(first, scale_over(parse_name("D"), "Mixolydian")))]
    [('C♯', 'C♮')]
    """
    for motion in (*change.half_steps, *change.steps):
        is_same_letter = motion.old.letter == motion.new.letter
        yield _with_natural(motion.old, is_same_letter), _with_natural(motion.new, is_same_letter)
    yield from (("", f"+{name}") for name in change.new)
    yield from ((f"−{name}", "") for name in change.leaves)


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
