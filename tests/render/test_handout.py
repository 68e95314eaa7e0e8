"""The printed handout, read back with another program (PDFium) and looked at as text.

Sources: ISO 216 for A4, ANSI/ASME Y14.1 for letter, ISO 14289-1 (PDF/UA-1) for the tags.
"""

from __future__ import annotations

import ctypes
import re
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from fractions import Fraction
from functools import cache
from pathlib import Path

import handout_sample as sample
import pypdfium2
import pypdfium2.raw as pdfium_c
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pdf_tags import alts_of

from halfstep.progression.symbol import parse_symbol
from halfstep.render import handout as handout_module
from halfstep.render import typesetting
from halfstep.render.handout import (
    PAPERS,
    ChordEntry,
    ColourEntry,
    Detail,
    Handout,
    HandoutBar,
    LegendEntry,
    PaperName,
    Remark,
    WatchEntry,
    handout_pdf,
    write_handout,
)
from halfstep.render.score_pictures import draw_systems
from halfstep.score import Barline

POINT_MM = 25.4 / 72
HEADINGS = {"The chords and their scales", "What changes", "The steps", "Take care"}
FORTY_BARS = """
Ebmaj7 | Cm7 | Fm7 | Bb7 | Gm7b5 C7b9 | Fm7 Db7 | Ebmaj7/G Gbdim7 | Fm7 Bb7 |
Abmaj7 | | Abm7 | Db7 | Gbmaj7 | Ebm7 | Abm7 Db7 | Gm7 C7 |
Fmaj7 | Dm7 | Gm7 | C7 | Am7b5 D7b9 | Gm7 Eb7 | Fmaj7 Abdim7 | Gm7 C7 |
Amaj7 | F#m7 | Bm7 | E7 | C#m7b5 F#7b9 | Bm7 | Bb7 | Ebmaj7 |
Cm7 | F7 | Bb7 | N.C. | Ebmaj7 Cm7 Fm7 Bb7 | Gm7 C7 | Fm7 Bb7 | Ebmaj7
"""
HOSTILE = '#let x = $a$ *b* _c_ [d] <e> @f \\g "h" `i` // j /* k */ -- ...'
UNPRINTABLE = "\U000f1234"  # private use: no font shows it


def pages_of(pdf: bytes) -> list[str]:
    """The text of each page, one string a page."""
    document = pypdfium2.PdfDocument(pdf)
    texts = [page.get_textpage().get_text_range() for page in document]
    document.close()
    return [text.replace("\r\n", "\n") for text in texts]


def squeezed(text: str) -> str:
    """Text without white space: where a line or a word ends is the page's affair."""
    return re.sub(r"\s+", "", text)


def on_pages(handout: Handout) -> str:
    return squeezed(" ".join(pages_of(handout_pdf(handout))))


@cache
def printed(chords: str, paper: PaperName = "a4", *, detail: Detail = Detail.STAVES) -> bytes:
    """The handout of some chords, made once."""
    return handout_pdf(sample.handout_of(chords, detail=detail), paper=paper)


FORTY = pytest.param(FORTY_BARS, marks=pytest.mark.slow, id="forty")
LESSONS = [
    pytest.param(sample.EIGHT_BARS, "a4", id="eight-a4"),
    pytest.param(sample.EIGHT_BARS, "letter", id="eight-letter"),
    pytest.param(sample.TWELVE_BARS, "a4", id="twelve", marks=pytest.mark.slow),
    pytest.param(FORTY_BARS, "letter", id="forty", marks=pytest.mark.slow),
]
"""Each length, and each paper short and long."""


@pytest.fixture(scope="module")
def eight_bars() -> bytes:
    return printed(sample.EIGHT_BARS)


@pytest.mark.slow
@pytest.mark.sampled
@pytest.mark.parametrize("paper", ["a4", "letter"])
@pytest.mark.parametrize("chords", [sample.EIGHT_BARS, sample.TWELVE_BARS])
def test_a_lesson_of_eight_or_twelve_bars_with_six_steps_has_two_to_four_pages(chords, paper):
    assert 2 <= len(pages_of(printed(chords, paper))) <= 4


@pytest.mark.slow
@pytest.mark.parametrize(("paper", "width_mm", "height_mm"), [
    ("a4", 210, 297),  # ISO 216
    ("letter", 8.5 * 25.4, 11 * 25.4),  # ANSI/ASME Y14.1
])  # fmt: skip
def test_every_page_has_the_size_of_its_paper(paper, width_mm, height_mm):
    document = pypdfium2.PdfDocument(printed(sample.EIGHT_BARS, paper))
    for page in document:
        assert [side * POINT_MM for side in page.get_size()] == pytest.approx(
            [width_mm, height_mm], abs=0.05
        )
    document.close()


def test_every_text_of_a_student_s_sheet_is_on_its_pages():
    handout = sample.handout_of()
    shown = squeezed(" ".join(pages_of(printed(sample.EIGHT_BARS))))
    texts = [handout.title, handout.player, handout.facts, *handout.care]
    texts += [entry.scale for entry in handout.chords]
    texts += [change.instruction for change in handout.changes if not change.keeps]
    for step in handout.steps:
        texts += [f"{step.number} {step.title}", step.task, step.manner, *step.notices]
    texts += [f"{entry.sign} {entry.text}" for entry in handout.legend]
    assert [text for text in texts if squeezed(text) not in shown] == []


@pytest.mark.slow
@pytest.mark.sampled
@pytest.mark.parametrize("detail", Detail)
def test_a_scale_over_all_the_chords_is_named_once(detail):
    (entry, *_) = sample.handout_of().chords
    colour = ColourEntry("D minor blues", entry.scale_tones)
    shown = on_pages(sample.handout_of(colours=(colour,), detail=detail))
    assert shown.count("Dminorblues") == 1
    assert shown.count("Overthewholeblues") == 1


@pytest.mark.slow
def test_reasons_are_the_teacher_s_alone():
    """A student's sheet has the scale on a staff in their place."""
    handout = sample.handout_of()
    student, teacher = (
        squeezed(" ".join(pages_of(printed(sample.EIGHT_BARS, detail=detail))))
        for detail in (Detail.STAVES, Detail.REASONS)
    )
    reasons = [squeezed(entry.reason) for entry in handout.chords]
    assert all(reason in teacher and reason not in student for reason in reasons)
    for entry in handout.chords:
        assert squeezed(", ".join(entry.others)) in teacher
    for change in handout.changes:
        assert change.keeps or squeezed(" ".join(change.stays)) in teacher


def test_what_to_watch_for_names_the_step_and_the_player():
    watch = (WatchEntry("3. Broken arpeggio", "Out of order.", (Remark("Flute", ("Low C.",)),)),)
    bare = sample.handout_of("C7", steps=(), watch=watch, readers=("Flute: reads C major",))
    shown = on_pages(replace(bare, detail=Detail.REASONS))
    for text in ("What to watch for", "3. Broken arpeggio", "Flute. Low C.", "reads C major"):
        assert squeezed(text) in shown


@pytest.mark.parametrize(("chords", "paper"), LESSONS)
def test_a_step_that_fits_on_a_page_is_never_broken(chords, paper):
    pages = alts_of(printed(chords, paper))
    for step in sample.handout_of(chords).steps:
        on = [n for n, alts in enumerate(pages) if any(f"Step {step.number}," in a for a in alts)]
        assert len(set(on)) == 1


@pytest.mark.slow
def test_a_step_longer_than_a_page_begins_on_a_left_page():
    """Left pages have even numbers: the two lie open side by side."""
    long = " | ".join(["Cmaj7 A7 | Dm7 G7"] * 32)
    one = sample.handout_of(long).steps[5]
    pages = alts_of(handout_pdf(sample.handout_of(long, steps=(one,))))
    on = [number for number, alts in enumerate(pages, 1) if any("Step 6," in a for a in alts)]
    assert len(on) == 2
    assert on[0] % 2 == 0


@pytest.mark.slow
def test_music_is_set_closer_only_where_that_saves_a_page():
    """Five steps of two lines share a page when close; staves are never under 6 mm."""
    five = sample.handout_of(chords=(), changes=(), care=(), grid=())
    five = replace(five, steps=five.steps[:1] * 5)
    four = replace(five, steps=five.steps[:4])
    wide = [handout_pdf(replace(handout, may_close=False)) for handout in (five, four)]
    assert (len(pages_of(wide[0])), len(pages_of(handout_pdf(five)))) == (2, 1)
    assert handout_pdf(four) == wide[1]
    assert handout_module.CLOSE_STAFF_MM >= 6.0


def test_music_is_not_engraved_again_where_that_saves_no_page(monkeypatch):
    """Eight steps take two pages in either size: their pictures, made smaller, say so."""
    engraved = []

    def counted(score, **options):
        engraved.append(options["staff_mm"])
        return draw_systems(score, **options)

    monkeypatch.setattr(handout_module, "draw_systems", counted)
    eight = sample.handout_of(chords=(), changes=(), care=(), grid=())
    eight = replace(eight, steps=eight.steps[:1] * 8)
    assert len(pages_of(handout_pdf(eight))) == 2
    assert engraved == [handout_module.OPEN_STAFF_MM] * 8


@pytest.mark.slow
def test_pages_are_counted_as_another_program_counts_them():
    for pdf in (printed(sample.EIGHT_BARS), printed(sample.TWELVE_BARS)):
        assert typesetting.page_count(pdf) == len(pages_of(pdf))


@pytest.mark.slow
def test_changes_that_keep_every_note_are_named_together():
    handout = sample.handout_of("Dm7 | G7 | Cmaj7 | F#m7")
    kept = [change for change in handout.changes if change.keeps]
    shown = on_pages(handout)
    assert len(kept) == 2
    assert shown.count("Keepeverynote") == 1
    assert "Dm7→G7bar2,G7→Cmaj7bar3" in shown


def test_a_chord_that_begins_later_in_its_bar_says_where():
    bars = (_bar("C7 F7", places=("", "beat 3")), _bar("F7 C7", places=("", "the “and” of 2")))
    shown = on_pages(sample.handout_of("C7", grid=bars, steps=(), chords=(), changes=()))
    assert "beat3" in shown
    assert "the“and”of2" in shown


def test_every_chord_of_the_grid_is_printed(eight_bars):
    first = squeezed(pages_of(eight_bars)[0])
    for symbol in ("Dmaj7", "Bm7", "Em7", "A7", "F♯m7", "B7", "G7"):
        assert symbol in first


def test_every_page_says_the_title_the_player_and_which_page_it_is(eight_bars):
    pages = pages_of(eight_bars)
    for number, text in enumerate(pages, 1):
        footer = squeezed(text)[-60:]
        assert footer.endswith(f"TwoDoorsDownAltosaxophonepage{number}of{len(pages)}")


@pytest.mark.parametrize(("chords", "paper"), LESSONS)
def test_no_heading_stands_alone_at_the_foot_of_a_page(chords, paper):
    handout = sample.handout_of(chords)
    headings = HEADINGS | {f"{step.number} {step.title}" for step in handout.steps}
    for text in pages_of(printed(chords, paper)):
        lines = [" ".join(line.split()) for line in text.strip().split("\n")]
        body = [line for line in lines if "page " not in line and handout.player not in line]
        assert not body or body[-1] not in headings


@pytest.mark.slow
def test_what_a_title_or_an_instruction_says_is_printed_as_typed():
    handout = sample.handout_of("C7 | F7", title=HOSTILE)
    change = replace(handout.changes[0], instruction=HOSTILE)
    handout = replace(handout, player=HOSTILE, changes=(change,))
    assert on_pages(handout).count(squeezed(HOSTILE)) >= 4


@pytest.mark.slow
def test_the_title_is_in_the_documents_properties():
    document = pypdfium2.PdfDocument(handout_pdf(sample.handout_of("C7", title=HOSTILE)))
    assert document.get_metadata_value("Title") == HOSTILE
    document.close()


@pytest.mark.slow
@given(st.text(st.characters(codec="ascii", categories=("L", "N", "P", "S")), min_size=1))
@settings(max_examples=25, deadline=None)
def test_any_ascii_title_is_printed_as_typed(title):
    bare = sample.handout_of("C7", steps=(), chords=(), title=title)
    assert squeezed(title) in on_pages(bare)


@pytest.mark.slow
@given(st.text(max_size=30))
@settings(max_examples=25, deadline=None)
def test_no_title_breaks_the_page(title):
    bare = sample.handout_of("C7", steps=(), chords=(), title=title)
    assert len(pages_of(handout_pdf(bare))) == 1


@pytest.mark.slow
def test_a_sign_that_no_font_holds_is_printed_as_a_question_mark():
    bare = sample.handout_of("C7", steps=(), title=f"Blue{UNPRINTABLE}Door")
    assert "Blue?Door" in on_pages(bare)


def test_signs_of_the_trade_are_in_the_fonts_that_come_along():
    """PDF/UA-1 refuses a glyph that is not there, so setting it at all is the proof."""
    signs = "♭ ♯ ♮ 𝄫 𝄪 ° ø △ → ♩ · – − ½ B𝄫 F𝄪"
    legend = (LegendEntry(signs, sign="◇"),)
    data = handout_module._page_data(
        replace(sample.handout_of("C7"), title=signs, legend=legend), PAPERS["a4"]
    )
    assert typesetting._typeset("handout.typ", data, system_fonts=False).startswith(b"%PDF")


def test_a_glyph_that_is_missing_is_noticed():
    data = handout_module._page_data(sample.handout_of("C7", title=UNPRINTABLE), PAPERS["a4"])
    with pytest.raises(typesetting._SignsMissing, match=UNPRINTABLE):
        typesetting._typeset("handout.typ", data, system_fonts=False)


@pytest.mark.slow
def test_accidentals_come_out_as_characters():
    shown = on_pages(sample.handout_of("Ebmaj7 | F#m7b5 | Bdim7"))
    for text in ("E♭maj7", "F♯ø7", "B°7", "E♭Ionian"):
        assert text in shown


def test_an_accidental_in_a_raised_extension_is_raised_with_it():
    document = pypdfium2.PdfDocument(handout_pdf(sample.handout_of("E7b9")))
    text = document[0].get_textpage()
    start, _ = text.search("7♭9").get_next()
    seven, flat, nine = (text.get_charbox(n, loose=False) for n in range(start, start + 3))
    middle = (flat[1] + flat[3]) / 2
    assert seven[1] < middle < seven[3]
    assert nine[1] < middle < nine[3]
    document.close()


def test_each_scale_note_is_named_under_its_head():
    handout = sample.handout_of("Ebmaj7")
    data = handout_module._page_data(handout, PAPERS["a4"])["chords"][0]
    assert len(data["staff"]["heads_mm"]) == len(data["scale_tones"]) == 8
    assert data["staff"]["heads_mm"] == sorted(data["staff"]["heads_mm"])
    assert "E♭FGA♭B♭CDE♭" in "".join(tone["name"] for tone in data["scale_tones"])


def test_the_document_is_tagged_and_in_english(eight_bars):
    document = pypdfium2.PdfDocument(eight_bars)
    buffer = ctypes.create_string_buffer(32)
    length = pdfium_c.FPDFCatalog_GetLanguage(
        document.raw, ctypes.cast(buffer, ctypes.POINTER(ctypes.c_ushort)), 32
    )
    assert pdfium_c.FPDFCatalog_IsTagged(document.raw)
    assert buffer.raw[:length].decode("utf-16-le").rstrip("\0") == "en"
    document.close()


@pytest.mark.slow
def test_the_same_handout_gives_the_same_bytes(eight_bars):
    typesetting._compiler.cache_clear()
    assert handout_pdf(sample.handout_of()) == eight_bars


@pytest.mark.slow
def test_threads_may_print_at_the_same_time():
    handouts = [sample.handout_of("C7", title=f"Title {n}") for n in range(4)]
    alone = [handout_pdf(handout) for handout in handouts]
    with ThreadPoolExecutor(4) as threads:
        assert list(threads.map(handout_pdf, handouts)) == alone


@pytest.mark.slow
def test_a_file_is_written_for_the_paper_asked_for(tmp_path: Path):
    handout = sample.handout_of("C7")
    write_handout(tmp_path / "handout.pdf", handout, paper="letter")
    assert (tmp_path / "handout.pdf").read_bytes() == handout_pdf(handout, paper="letter")


WIDE = "F#m7b5/C Bbmaj7 Ebm7b5/Bbb Abmaj7 | Dbmaj7 Ebm7 Abmaj7 Db7 | | N.C. | C7"


@pytest.mark.sampled
@pytest.mark.parametrize(
    ("chords", "detail"),
    [
        ("C7", Detail.NAMES),
        *((WIDE, detail) for detail in Detail),
        pytest.param(FORTY_BARS, Detail.REASONS, marks=pytest.mark.slow, id="forty"),
    ],
)
def test_no_text_leaves_the_margins(chords, detail):
    long = "say every changing note aloud before you play it, " * 6
    handout = sample.handout_of(chords, title="The Longest Evening of the Year and What We Did in")
    changes = tuple(replace(change, instruction=long) for change in handout.changes)
    pdf = handout_pdf(replace(handout, changes=changes, detail=detail))
    document = pypdfium2.PdfDocument(pdf)
    paper = PAPERS["a4"]
    for page in document:
        text = page.get_textpage()
        for n in range(text.count_rects()):
            left, bottom, right, top = (side * POINT_MM for side in text.get_rect(n))
            assert paper.side_mm - 1 <= left
            assert right <= paper.width_mm - paper.side_mm + 1
            assert 5 <= bottom <= top <= paper.height_mm - 5
    document.close()


def _boxes(pdf: bytes, roots: str) -> list[tuple[float, float]]:
    """Left and right edges of the grid's letters on the first page, in reading order."""
    document = pypdfium2.PdfDocument(pdf)
    text = document[0].get_textpage()
    matches = text.search(roots, match_case=True)
    boxes = []
    while place := matches.get_next():
        start, count = place
        chars = [text.get_charbox(n) for n in range(start, start + count)]
        boxes.append((min(c[0] for c in chars), max(c[2] for c in chars)))
    document.close()
    return boxes


def test_four_long_chords_in_a_bar_stand_apart():
    names = ["F♯ø", "B♭maj", "E♭ø", "A♭maj"]
    bare = sample.handout_of("F#m7b5/C Bbmaj7/D Ebm7b5/Bbb Abmaj7/C", steps=(), chords=())
    bare = replace(bare, changes=())
    pdf = handout_pdf(bare)
    edges = [edge for name in names for edge in _boxes(pdf, name)[0]]
    assert len(edges) == 8
    assert edges == sorted(edges)


def _grid(*bars: HandoutBar) -> list[list[str]]:
    """What each cell of the grid prints: symbols, a repeat sign, or nothing."""
    handout = sample.handout_of("C7", grid=bars)
    return [
        ["·" if cell is None else "%" if cell.simile else _said(cell.chords) for cell in line]
        for line in handout_module._grid_lines(handout)
    ]


def _said(chords) -> str:
    return " ".join(handout_module._spoken(chord) for chord in chords)


def _bar(text: str, number: int = 1, **more) -> HandoutBar:
    symbols = [parse_symbol(word) for word in text.split()]
    placed = (sample.text_of(s, Fraction(4 * n, len(symbols))) for n, s in enumerate(symbols))
    return HandoutBar(number, Fraction(4), tuple(placed), **more)


def test_a_bar_that_says_the_same_chord_again_prints_a_repeat_sign():
    assert _grid(_bar("C7"), _bar("C7"), _bar(""), _bar("F7")) == [["C7", "%", "%", "F7"]]


def test_a_line_of_the_grid_begins_with_its_chord_written_out():
    assert _grid(*[_bar("C7")] * 5)[1] == ["C7", "·", "·", "·"]


def test_a_chord_held_from_a_bar_of_two_is_written_out():
    assert _grid(_bar("C7 F7"), _bar(""), _bar("C7 F7")) == [["C7 F7", "F7", "C7 F7", "·"]]


def test_a_section_starts_a_new_line_of_the_grid():
    lines = _grid(_bar("C7", section="A"), _bar("F7"), _bar("F7", section="B"))
    assert lines == [["C7", "F7", "·", "·"], ["F7", "·", "·", "·"]]


def test_a_pickup_stands_alone_at_the_end_of_its_line():
    assert _grid(_bar("G7", 0), _bar("C7")) == [["·", "·", "·", "G7"], ["C7", "·", "·", "·"]]


def test_sections_and_notes_and_double_bars_are_drawn():
    bars = (
        _bar("C7", 1, section="Bridge", note="3/4", barline=Barline.DOUBLE),
        _bar("F7", 2, barline=Barline.FINAL),
    )
    shown = on_pages(sample.handout_of("C7", grid=bars, steps=()))
    assert "Bridge13/4" in shown


def test_a_handout_without_a_title_is_headed_by_its_player():
    bare = sample.handout_of("C7", title="")
    assert pages_of(handout_pdf(bare))[0].strip().startswith("Alto saxophone")


def test_a_chord_without_a_scale_takes_a_line_and_no_staff():
    silent = ChordEntry(
        chord=sample.text_of(parse_symbol("N.C.")),
        tones=(),
        scale="",
        scale_tones=(),
        parent="",
        parent_fifths=None,
        reason="No chord: rest here.",
    )
    shown = on_pages(sample.handout_of("C7", chords=(silent,), steps=()))
    assert "N.C.Nochord:resthere." in shown


@pytest.mark.slow
@pytest.mark.parametrize(
    ("chords", "paper"),
    [(sample.EIGHT_BARS, "letter"), (sample.TWELVE_BARS, "a4"), (FORTY_BARS, "letter")],
)
def test_chords_and_changes_of_a_short_handout_stand_on_the_first_page_or_two(chords, paper):
    whole = pages_of(printed(chords, paper))
    short = pages_of(printed(chords, paper, detail=Detail.NAMES))
    assert len(short) <= len(whole)
    assert "What changes" in "".join(short[: 2 if chords == FORTY_BARS else 1])


@pytest.mark.slow
@pytest.mark.parametrize("chords", [sample.EIGHT_BARS, FORTY])
def test_every_text_of_a_short_handout_is_on_its_pages(chords):
    """A double flat is printed as two that stand close."""
    short = sample.handout_of(chords)
    shown = squeezed(" ".join(pages_of(printed(chords, detail=Detail.NAMES))))
    texts = [f"{step.number} {step.title}" for step in short.steps]
    for entry in short.chords:
        texts += [entry.scale, "".join(tone.name for tone in entry.tones)]
    texts += [change.instruction for change in short.changes if not change.keeps]
    assert [text for text in texts if squeezed(text).replace("𝄫", "♭♭") not in shown] == []
