"""Text as outlines: nothing missing, widths that add up, signs where the standard puts them.

Sources: SMuFL 1.4 for code points and for the five-line staff (a staff space is a quarter
of the em); Unicode 15 for musical signs.
"""

from __future__ import annotations

import re
import unicodedata

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from halfstep.render import glyphs
from halfstep.render.glyphs import (
    EM,
    glyph_path,
    letter_glyph,
    missing_glyphs,
    music_box,
    music_glyph,
    placed_glyphs,
    printable,
    settable,
    text_run,
    text_width,
)

NUMBER = r"(-?[\d.]+)"
PLAIN = "ABCDEFGabdijlmnosu0123456789()+/-.,"
words = st.text(st.sampled_from(PLAIN + "♭♯𝄫𝄪♮°ø△ "), max_size=12)


# Signs of the music font


@pytest.mark.parametrize(
    ("name", "code"),
    [
        ("FLAT", 0xE260), ("NATURAL", 0xE261), ("SHARP", 0xE262), ("DOUBLE_SHARP", 0xE263),
        ("DOUBLE_FLAT", 0xE264), ("BREATH", 0xE4CE),
    ],
)  # fmt: skip
def test_a_sign_has_its_code_point(name: str, code: int) -> None:
    """SMuFL 1.4: accidentalFlat to accidentalDoubleFlat, breathMarkComma."""
    assert getattr(glyphs, name) == code
    assert music_glyph(code).path


@pytest.mark.parametrize(
    ("character", "name"),
    [("♭", "MUSIC FLAT SIGN"), ("♮", "MUSIC NATURAL SIGN"), ("♯", "MUSIC SHARP SIGN"),
     ("𝄪", "MUSICAL SYMBOL DOUBLE SHARP"), ("𝄫", "MUSICAL SYMBOL DOUBLE FLAT")],
)  # fmt: skip
def test_the_characters_of_accidentals_are_those_of_unicode(character: str, name: str) -> None:
    assert unicodedata.name(character) == name
    ((glyph, *_),) = placed_glyphs(character)
    assert glyph == music_glyph(glyphs._SIGNS[character])


def test_a_black_note_head_is_a_space_high_and_wider_than_high() -> None:
    """SMuFL: noteheadBlack, U+E0A4, stands on the line, and a staff space is 250 units."""
    left, bottom, wide, high = music_box(0xE0A4)
    assert high == pytest.approx(EM / 4, rel=0.1)
    assert bottom == pytest.approx(-high / 2, abs=5)
    assert wide > high
    assert left == pytest.approx(0, abs=2)


def test_a_sharp_is_taller_than_a_natural_is_wide_and_a_double_sharp_is_a_space() -> None:
    heights = {code: music_box(code)[3] for code in range(0xE260, 0xE265)}
    assert heights[glyphs.SHARP] > 2 * EM / 4
    assert heights[glyphs.DOUBLE_SHARP] == pytest.approx(EM / 4, rel=0.2)
    assert music_box(glyphs.DOUBLE_FLAT)[2] > 1.5 * music_box(glyphs.FLAT)[2]


@pytest.mark.parametrize("code", [0xF8FF, 0x41, 0x10FFFF])
def test_a_sign_that_the_font_has_not_is_refused(code: int) -> None:
    with pytest.raises(ValueError, match=rf"no sign U\+{code:04X}"):
        music_box(code)


# Letters


def test_no_letter_is_empty_or_like_another() -> None:
    paths = {character: letter_glyph(character).path for character in PLAIN}
    assert all(paths.values())
    assert len(set(paths.values())) == len(PLAIN)


def test_a_letter_of_another_script_is_set_when_it_is_wanted() -> None:
    assert letter_glyph("Ж").path not in {"", letter_glyph("K").path}


def test_a_space_has_width_and_no_path() -> None:
    assert (letter_glyph(" ").width, letter_glyph(" ").path) == (250.0, "")


def test_wide_letters_are_wider() -> None:
    widths = {letter: letter_glyph(letter).width for letter in "ilmM"}
    assert widths["i"] < widths["m"] < widths["M"]
    assert 100 < min(widths.values()) < max(widths.values()) < 1100


def test_figures_are_equally_wide() -> None:
    """Lining figures of one width, so that numbers under each other stand in columns."""
    assert len({letter_glyph(figure).width for figure in "0123456789"}) == 1


@pytest.mark.parametrize("character", ["\U0010fff1", "\U0010fff2"])
def test_a_character_without_a_glyph_is_refused(character: str) -> None:
    with pytest.raises(ValueError, match=rf"no font here has .* \(U\+{ord(character):04X}\)"):
        letter_glyph(character)


def test_what_is_missing_is_told_in_order_without_drawing_the_rest() -> None:
    assert missing_glyphs("A\U0010fff1♭\U0010fff2C") == ("\U0010fff1", "\U0010fff2")
    assert missing_glyphs("") == ()


# Lines of text


@given(words, st.floats(1, 500))
def test_a_text_is_as_wide_as_its_glyphs_together(text: str, size: float) -> None:
    widths = sum(text_width(character, size) for character in text)
    assert text_width(text, size) == pytest.approx(widths, rel=1e-6, abs=1e-6)
    assert text_run(text, size).width == text_width(text, size)


@given(words, words)
def test_glyphs_stand_after_each_other(first: str, second: str) -> None:
    """What follows does not move what stands before it."""
    alone, together = placed_glyphs(first), placed_glyphs(first + second)
    assert together[: len(first)] == alone
    assert [place for _, place, *_ in together] == sorted(place for _, place, *_ in together)


@settings(max_examples=30)
@given(words, st.floats(10, 500), st.floats(-1000, 1000), st.floats(-1000, 1000))
def test_a_run_holds_a_path_for_every_glyph_that_has_one(
    text: str, size: float, x: float, y: float
) -> None:
    run = text_run(text, size, x=x, y=y)
    moves = re.findall(rf"translate\({NUMBER} {NUMBER}\) scale\({NUMBER} {NUMBER}\)", run.svg)
    assert len(moves) == sum(bool(glyph.path) for glyph, *_ in placed_glyphs(text))
    for left, low, across, up in (map(float, move) for move in moves):
        assert x - 0.06 <= left <= x + run.width + 0.06
        assert y - 0.4 * size - 0.06 <= low <= y + 0.06
        assert across == -up > 0


def test_a_glyph_without_a_path_is_not_drawn() -> None:
    assert glyph_path(letter_glyph(" "), 0, 0, 1) == ""
    assert text_run(" ", 100).svg == ""


def test_an_accidental_is_larger_than_letters_and_raised() -> None:
    """A music font makes it for note heads; beside a letter it stands on the line."""
    (_, _, rise, scale), (_, _, letter_rise, letter_scale) = placed_glyphs("♯A")
    assert scale > letter_scale == 1.0
    assert rise > letter_rise == 0.0


def test_the_empty_text_has_no_width() -> None:
    assert text_width("", 100) == 0.0
    assert placed_glyphs("") == ()


# What can be printed


@given(st.text(max_size=20))
def test_what_can_be_printed_is_as_long_and_stays_as_it_is(text: str) -> None:
    once = printable(text)
    assert len(once) == len(text)
    assert printable(once) == once
    assert all(character.isprintable() for character in once)


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("Étude ♭7", "Étude ♭7"),
        ("bell\u0007", "bell "),
        ("a\nb\tc", "a b c"),
        ("half\ud800", "half "),
        ("zero\u200bwidth", "zero width"),
    ],
)
def test_what_no_page_can_hold_is_a_space(text: str, shown: str) -> None:
    assert printable(text) == shown
    assert settable(text) == shown


def test_what_no_font_has_is_a_question_mark() -> None:
    """An unassigned character is no print at all; one of the machine's may be without a font."""
    assert settable("") == ""
    assert settable("Blue\U0001d1ffDoor").replace(" ", "?") == "Blue?Door"


def test_a_question_mark_is_put_for_each_character_that_is_missing(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(glyphs, "missing_glyphs", lambda signs: tuple(set(signs) & set("QX")))
    assert settable("Quick FoX\u0007") == "?uick Fo? "
