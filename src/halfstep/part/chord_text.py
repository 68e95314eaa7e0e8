"""How is a chord symbol set on a page? In pieces: root, quality, extension, bass, and its kind."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from halfstep.progression.kinds import kind_of
from halfstep.progression.symbol import ChordSymbol
from halfstep.score import ChordText, DegreeText


def chord_text(symbol: ChordSymbol, at: Fraction) -> ChordText:
    """A written symbol in the pieces a page is set from."""
    written = kind_of(symbol)
    head = f"{symbol.root}{symbol.quality_text}"
    return ChordText(
        at,
        root="" if symbol.silent else str(symbol.root),
        quality=symbol.quality_text,
        extension="" if symbol.silent else str(replace(symbol, bass=None)).removeprefix(head),
        bass=str(symbol.bass) if symbol.bass else "",
        plain="N.C." if symbol.silent else str(symbol),
        kind=written.kind,
        kind_text=written.text,
        degrees=tuple(DegreeText(d.value, d.alter, d.type, d.word) for d in written.degrees),
        bracketed=written.bracketed,
    )
