"""What does a screen reader say in the place of a line of music? Its bars in words."""

from __future__ import annotations

from collections.abc import Sequence

from halfstep.render.score_pictures import Picture
from halfstep.score import Score
from halfstep.score_words import opening_words, score_words


def line_alts(score: Score, pictures: Sequence[Picture], name: str) -> list[str]:
    """The words for each picture of a part; the first says key and metre, too.

    Parameters
    ----------
    score : Score
    pictures : sequence of Picture
        As `halfstep.render.score_pictures.draw_systems` gives them.
    name : str
        Of the part: what is played.
    """
    return line_words(score, [picture.bars for picture in pictures], name)


def line_words(score: Score, lines: Sequence[Sequence[int]], name: str) -> list[str]:
    """The same for each line of a part, by the places in the score of the bars that it has."""
    bars = score_words(score)
    alts = []
    for number, places in enumerate(lines, 1):
        opening = f", {opening_words(score)}" if number == 1 else ""
        words = " ".join(bars[place] for place in places)
        alts.append(f"{name}, line {number} of {len(lines)}{opening}. {words}")
    return alts
