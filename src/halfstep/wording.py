"""How does a sentence list things?"""

from __future__ import annotations

from collections.abc import Sequence


def joined_by_and(items: Sequence[str]) -> str:
    """``a, b and c``; nothing for no items.

    >>> joined_by_and(["a", "b", "c"]), joined_by_and(["a"])
    ('a, b and c', 'a')
    """
    return " and ".join(filter(None, (", ".join(items[:-1]), *items[-1:])))
