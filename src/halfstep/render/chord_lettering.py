"""How is a chord symbol set? Root and quality on the line, the extension raised, the bass."""

from __future__ import annotations

from functools import lru_cache

from halfstep.render.glyphs import TextRun, text_run
from halfstep.score import ChordText

PIECE_GAP = 0.02
"""Between the pieces of a chord symbol, in its ems."""


def chord_run(chord: ChordText, chord_em: float) -> TextRun:
    """A chord symbol set from x 0 on the baseline 0: root, quality, raised part, bass.

    Parameters
    ----------
    chord_em : float
        The em of the root, in the picture's units.
    """
    return _run(tuple(chord_pieces(chord)), chord_em)


_Piece = tuple[str, float, float]


@lru_cache(maxsize=1024)
def _run(symbol: tuple[_Piece, ...], chord_em: float) -> TextRun:
    """The same symbol comes again and again in a part, and in all parts over its chart."""
    width = 0.0
    pieces = []
    for text, size, rise in symbol:
        run = text_run(text, size * chord_em, x=width, y=-rise * chord_em)
        width += run.width + PIECE_GAP * chord_em
        pieces.append(run.svg)
    return TextRun(width, "".join(pieces))


def chord_pieces(chord: ChordText) -> list[_Piece]:
    """A chord symbol as texts, each with its size and its rise, in ems of the symbol."""
    if not chord.root:
        return [(chord.plain, 0.85, 0.0)]
    pieces = [(chord.root + chord.quality, 1.0, 0.0)]
    if chord.extension:
        pieces.append((chord.extension, 0.72, 0.28))
    if chord.bass:
        pieces.append((f"/{chord.bass}", 1.0, 0.0))
    return pieces
