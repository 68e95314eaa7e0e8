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
    bars = score_words(score)
    alts = []
    for number, picture in enumerate(pictures, 1):
        opening = f", {opening_words(score)}" if number == 1 else ""
        words = " ".join(bars[place] for place in picture.bars)
        alts.append(f"{name}, line {number} of {len(pictures)}{opening}. {words}")
    return alts
