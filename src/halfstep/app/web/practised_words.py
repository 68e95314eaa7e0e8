"""How an item of a plan went, as pages say it: what was heard, and the player's own word."""

from __future__ import annotations

from halfstep.lesson.plan_words import VERDICTS
from halfstep.school.practised import PractisedItem


def practised_words(item: PractisedItem | None) -> str:
    """How an item went; empty for one that was not practised.

    Returns
    -------
    str
        ``nearly``; ``heard: clean``; ``heard: nearly; own word: clean``.
    """
    if item is None:
        return ""
    heard = f"heard: {VERDICTS[item.heard]}" if item.heard else ""
    own = VERDICTS[item.word] if item.word else ""
    return f"{heard}; own word: {own}" if heard and own else heard or own
