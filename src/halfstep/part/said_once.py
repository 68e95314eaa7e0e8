"""What is said of several chords, once: the others point to the first of them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator


def once_each(reasons: Iterable[tuple[str, str]]) -> Iterator[str]:
    """Reasons in order, each in full where it comes first; of another chord ``as for C7``.

    Parameters
    ----------
    reasons : iterable of (str, str)
        The chord as printed, and the reason.

    Examples
    --------
    >>> list(once_each([("C7", "it rests"), ("F7", "it rests"), ("C7", "it rests")]))
    ['it rests', 'as for C7', '']
    """
    first: dict[str, str] = {}
    for chord, reason in reasons:
        if reason not in first:
            first[reason] = chord
            yield reason
        else:
            yield "" if first[reason] == chord else f"as for {first[reason]}"
