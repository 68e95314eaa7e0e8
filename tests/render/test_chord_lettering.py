"""How a chord symbol is set: root and quality on the line, the extension raised, the bass."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from halfstep.render.chord_lettering import PIECE_GAP, chord_pieces, chord_run
from halfstep.render.glyphs import text_width
from halfstep.score import ChordText
from written_scores import symbol

symbols = st.builds(
    lambda root, quality, extension, bass: symbol(root, extension, quality=quality, bass=bass),
    st.sampled_from(["C", "F♯", "B♭", "B𝄫"]),
    st.sampled_from(["", "m", "°", "ø", "maj"]),
    st.sampled_from(["", "7", "9♭5", "7♯11"]),
    st.sampled_from(["", "G", "A♭"]),
)


@pytest.mark.parametrize(
    ("chord", "texts"),
    [
        (symbol("C"), ["C"]),
        (symbol("C", "7"), ["C", "7"]),
        (symbol("B♭", "7", quality="m"), ["B♭m", "7"]),
        (symbol("F♯", "7", quality="ø"), ["F♯ø", "7"]),
        (symbol("C", bass="G"), ["C", "/G"]),
        (symbol("D♭", "7♯11", quality="maj", bass="A♭"), ["D♭maj", "7♯11", "/A♭"]),
        (ChordText(symbol("C").at, kind="none", plain="N.C."), ["N.C."]),
    ],
)
def test_a_symbol_is_set_in_its_pieces(chord: ChordText, texts: list[str]) -> None:
    assert [text for text, *_ in chord_pieces(chord)] == texts


@given(symbols)
def test_the_extension_alone_is_small_and_raised(chord: ChordText) -> None:
    for text, size, rise in chord_pieces(chord):
        raised = text == chord.extension and text != ""
        assert (size < 1) == raised
        assert (rise > 0) == raised


def test_a_raised_extension_reaches_no_higher_than_the_root() -> None:
    """A capital is about 0.65 of an em high: 0.28 + 0.72 · 0.65 stands 0.1 over it at most."""
    _, (_, size, rise) = chord_pieces(symbol("C", "7"))
    assert rise + size * 0.65 < 0.65 + 0.1


@given(symbols, st.floats(50, 1000))
def test_a_run_is_as_wide_as_its_pieces_and_their_gaps(chord: ChordText, em: float) -> None:
    widths = [text_width(text, size * em) + PIECE_GAP * em for text, size, _ in chord_pieces(chord)]
    assert chord_run(chord, em).width == pytest.approx(sum(widths))


@given(symbols, st.floats(50, 500))
def test_twice_the_em_is_twice_the_width(chord: ChordText, em: float) -> None:
    once, twice = chord_run(chord, em), chord_run(chord, 2 * em)
    assert twice.width == pytest.approx(2 * once.width)
    assert once.svg.count("<path") == twice.svg.count("<path") > 0


def test_no_chord_is_printed_as_it_stands() -> None:
    silent = ChordText(symbol("C").at, kind="none", plain="N.C.")
    ((_, size, rise),) = chord_pieces(silent)
    assert (size < 1, rise) == (True, 0.0)
    assert chord_run(silent, 100).svg.count("<path") == 4
