"""Music on whole pages: on one where it can be read, complete on several where it cannot.

ISO 216 for the size of A4; the least staff that is read from a stand is common practice, no
source.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from io import BytesIO

import pytest

from halfstep.instruments import Clef
from halfstep.meter import Meter
from halfstep.render import staff_page as module
from halfstep.render.glyphs import missing_glyphs
from halfstep.render.mei import mei_bars, score_mei
from halfstep.render.score_pictures import STAFF_MM
from halfstep.render.staff_page import StaffBlock, StaffPage, set_staff_page, staff_page_files
from halfstep.render.vector_page import A4_HIGH, A4_WIDE
from halfstep.score import ChordText, Score, ScoreBar, ScoreNote
from written_scores import COMMON, part


def bars(count: int, *, chords: int = 1, meter: Meter = COMMON) -> tuple[ScoreBar, ...]:
    places = [meter.bar_beats * n / chords for n in range(chords)]
    texts = tuple(
        ChordText(at, root="E♭", quality="m", extension="7", kind="other") for at in places
    )
    rest = ScoreNote(None, meter.bar_beats)
    return tuple(ScoreBar(n + 1, meter, (rest,), chords=texts, slashes=True) for n in range(count))


def page_of(*scores: Score, title: str = "Stairs", headings: bool = False) -> StaffPage:
    blocks = tuple(StaffBlock(s, f"in {n}" if headings else "") for n, s in enumerate(scores))
    return StaffPage(
        title=title, reader="Flute", facts=("F major",), manner="Swing ♩ = 120", blocks=blocks,
        description="Bars.", notes=("What a sign means.",),
    )  # fmt: skip


@pytest.mark.slow
@pytest.mark.parametrize(
    ("count", "chords", "meter"),
    [
        (1, 1, Meter()), (4, 4, Meter()), (32, 2, Meter(3, 4)), (36, 1, Meter(5, 4)),
        (64, 1, Meter()), (64, 2, Meter(6, 8)),
    ],
    ids=str,
)  # fmt: skip
def test_sixty_four_bars_stand_on_one_page(count: int, chords: int, meter: Meter) -> None:
    assert len(set_staff_page(page_of(part(*bars(count, chords=chords, meter=meter))))) == 1


def test_no_staff_is_too_small_to_read() -> None:
    """A pocket score's staff is about 4 mm high."""
    assert min(module._SCALES) * STAFF_MM > 4.4


@pytest.mark.slow
def test_long_music_goes_on_on_the_next_page_with_every_line(monkeypatch) -> None:
    drawn = []
    take = module._drawn

    def counted(page, lines, *, number):
        drawn.append(len(lines))
        return take(page, lines, number=number)

    monkeypatch.setattr(module, "_drawn", counted)
    page = page_of(part(*bars(200, chords=2)))
    pages = set_staff_page(page)
    assert len(pages) == len(drawn) > 1
    assert sum(drawn) == 50
    assert any("Stairs · Flute · 2" in text.text for text in pages[1].texts)


def test_everything_lies_on_the_page_and_no_two_texts_meet() -> None:
    (page,) = set_staff_page(page_of(part(*bars(12)), title="A long title " * 12))
    for place, text in enumerate(page.texts):
        assert text.box.left >= 0
        assert text.box.right <= A4_WIDE
        assert text.box.bottom <= A4_HIGH
        assert not any(text.box.meets(other.box) for other in page.texts[place + 1 :])


def test_each_block_has_its_heading_over_its_first_line() -> None:
    scores = [replace(part(*bars(5)), key_fifths=fifths) for fifths in (-5, 0, 4)]
    lines = module._lines(page_of(*scores, headings=True), 1.0, 4)
    headed = [any(s.kind == "heading" for s in line.line.shapes) for line in lines]
    assert headed.count(True) == 3
    assert headed[0]
    for line in lines:
        added = [s.box for s in line.line.shapes if s.kind in {"heading", "chord", "number"}]
        assert not any(a.meets(b) for n, a in enumerate(added) for b in added[n + 1 :])


@pytest.mark.parametrize(
    ("suffix", "start"), [(".pdf", b"%PDF"), (".png", b"\x89PNG"), (".svg", b"<?xml")]
)
def test_a_page_is_a_file_of_its_kind(suffix: str, start: bytes) -> None:
    files, notices = staff_page_files(page_of(part(*bars(4))), suffix)
    assert len(files) == 1
    assert files[0].startswith(start)
    assert notices == ()


@pytest.mark.slow
def test_a_long_pdf_is_one_file_of_several_pages_of_a4() -> None:
    import pypdfium2

    (data,), _ = staff_page_files(page_of(part(*bars(200, chords=2))), ".pdf")
    document = pypdfium2.PdfDocument(BytesIO(data))
    assert len(document) > 1
    for page in document:
        assert [round(side / 72 * 25.4) for side in page.get_size()] == [210, 297]


@pytest.mark.slow
def test_a_title_that_no_font_has_is_said() -> None:
    sign = "\U00012345"
    assert missing_glyphs(sign) == (sign,)
    _, notices = staff_page_files(page_of(part(*bars(1)), title=f"{sign} stairs"), ".svg")
    assert notices == (f"no font here has {sign}; the page has ? in its place",)


@pytest.mark.parametrize(
    ("meter", "beats", "count"),
    [
        (Meter(4, 4), 4, 4), (Meter(3, 4), 3, 3), (Meter(6, 8), 3, 2),
        (Meter(7, 8), Fraction(7, 2), 3), (Meter(2, 2), 4, 2), (Meter(4, 4), 1, 1),
    ],
    ids=str,
)  # fmt: skip
@pytest.mark.parametrize("clef", Clef)
def test_a_bar_without_a_line_has_a_slash_for_each_beat_on_the_middle_line(
    meter: Meter, beats: Fraction, count: int, clef: Clef
) -> None:
    """Common practice, no source: dotted beats in compound metres, groups in odd ones."""
    bar = ScoreBar(1, meter, (ScoreNote(None, Fraction(beats)),), slashes=True)
    mei = score_mei(mei_bars(replace(part(bar), clef=clef), lambda _: 100.0), [(range(1), 0)])
    pitch = 'pname="b" oct="4"' if clef is Clef.TREBLE else 'pname="d" oct="3"'
    assert mei.count(f'{pitch} head.shape="slash" stem.visible="false"') == count
