"""What are numbers, degrees and lists called in a sentence?"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from halfstep.pitch import Degree
from halfstep.wording import joined_by_and

LISTED = 8
"""How many places a sentence lists."""
_SIGNS = {-1: "flat ", 0: "", 1: "sharp "}
_WORDS = {1: "root", 2: "ninth", 3: "third", 4: "fourth", 5: "fifth", 6: "sixth", 7: "seventh"}


def degree_word(degree: Degree) -> str:
    """``third``, ``flat ninth``: what players call a degree; thirds and sevenths need no sign."""
    simple = degree.simple
    sign = (
        "" if simple.number in {3, 7} else _SIGNS[(simple.alteration > 0) - (simple.alteration < 0)]
    )
    return sign + _WORDS[simple.number]


def texts_in_bars(placed_texts: Iterable[tuple[str, int]]) -> list[str]:
    """Texts with all their bars, those of the same bars together: ``F and D in bars 1 and 4``."""
    bars: dict[str, list[int]] = {}
    for text, bar in placed_texts:
        bars.setdefault(text, []).append(bar)
    texts: dict[str, list[str]] = {}
    for text, numbers in bars.items():
        texts.setdefault(bars_in_words(numbers), []).append(text)
    return [f"{joined_by_and(together)} in {where}" for where, together in texts.items()]


def capital(text: str) -> str:
    """The text with its first letter large."""
    return text[:1].upper() + text[1:]


def listing(items: Sequence[str]) -> str:
    """Items that hold an ``and`` themselves."""
    return "; ".join(items) if any(" and " in item for item in items) else joined_by_and(items)


def bars_in_words(numbers: Iterable[int]) -> str:
    """``bar 3``, ``bars 1, 3–4 and 7``; a long list breaks off."""
    runs: list[list[int]] = []
    for number in sorted(set(numbers)):
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    spans = [str(run[0]) if len(run) == 1 else f"{run[0]}–{run[-1]}" for run in runs]
    word = "bar" if len(runs) == 1 and len(runs[0]) == 1 else "bars"
    if len(spans) > LISTED:
        return f"{word} {', '.join(spans[:LISTED])} …"
    return f"{word} {joined_by_and(spans)}"
