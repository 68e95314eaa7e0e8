"""The map of a chart: nothing touches, nothing leaves the page, nothing is missing.

Sources: ISO 216 for A4; SVG 1.1 and XML 1.0 for the picture; PDFium for what the page
shows; WCAG 2.2 (W3C), relative luminance and contrast ratio, for text on white.
"""

from __future__ import annotations

import re
from itertools import combinations
from pathlib import Path
from xml.etree import ElementTree

import pypdfium2
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from halfstep.harmony.analysis import analyse
from halfstep.instruments import INSTRUMENTS
from halfstep.lesson.map_page import chart_map
from halfstep.level import Level
from halfstep.part.transposed_part import part_for
from halfstep.render import drawn_page, glyphs, vector_page
from halfstep.render.chart_map import (
    ChartMap,
    chart_map_file,
    set_chart_map,
)
from halfstep.render.drawn_page import READABLE_MM
from halfstep.render.vector_page import VectorPage
from typed_charts import read_chart_text

SVG = "{http://www.w3.org/2000/svg}"
FOUR = "| D7 | G7 | D7 | G7 |"
TWELVE = (
    "key: Db\n| Db7 | Gb7 | Db7 | Abm7 Db7 | Gb7 | Gdim7 | Db7 | Fm7b5 Bb7b9 "
    "| Ebm7 | Ab7 | Db7 Bb7 | Ebm7 Ab7 |"
)
THIRTY_TWO = "| " + " | ".join(
    ["Dm7 G7", "Em7 A7", "Cmaj7", "Gm7 C7", "Fmaj7", "Fm7 Bb7", "Ebmaj7", "Am7b5 D7b9"] * 4
)  # fmt: skip
SIXTY_FOUR = THIRTY_TWO + " | " + THIRTY_TWO.strip("| ")
LONG = (
    "| Bbm7b5/Fb | G13b9#11 Bbm7b5/Fb | N.C. | C#m7b5/G F#7b9b13 Emaj7#11/G# Ebm(maj7) "
    "| C7alt F#maj7#5 Cdim7 B6/9 | {3/4} Am7 . D7 | {7/4} Gbmaj7#11 . . Abm7b5/Fb . . Db7sus4 "
    "| {7/4} C D E F G A B | Cb | Fb7 Bbbmaj7 | | N.C. |"
)
FAR = "key: Cb\n| Cbmaj7 | Fb7 | Bbbmaj7 | Ebb7 | G#m7b5 | C#7#9 | B#dim7 | E#m7 |"
PICKUP = "key: F\nmeter: 3/4\n{pickup 2} | Abm7b5 Db7b9 | Fmaj7 | Gm7 C7 | Fmaj7 | F7 |"
CHARTS = {
    "4": FOUR, "12": TWELVE, "32": THIRTY_TWO, "64": SIXTY_FOUR, "long": LONG, "far": FAR,
    "pickup": PICKUP,
}  # fmt: skip

ROOTS = [letter + sign for letter in "CDEFGAB" for sign in ("", "b", "#")]
SUFFIXES = ["", "m7", "7", "maj7#11", "m7b5", "dim7", "13b9", "7alt", "m(maj7)", "6/9", "7sus4"]
symbols = st.builds(str.__add__, st.sampled_from(ROOTS), st.sampled_from(SUFFIXES))
bars = st.lists(symbols, min_size=0, max_size=4).map(" ".join)
charts = st.builds(
    lambda words, before: f"{before}| C | {' | '.join(words)} |",
    st.lists(bars, min_size=1, max_size=20),
    st.sampled_from(["", "{pickup 1} ", "{pickup 3} "]),
)


def map_of(chart: str, instrument: str = "concert") -> ChartMap:
    part = part_for(analyse(read_chart_text(chart)), INSTRUMENTS[instrument])
    return chart_map(part, level=Level.INTERMEDIATE)


def write_chart_map(path: Path, chart: ChartMap) -> tuple[str, ...]:
    """The map as a file; returns what should be said of it."""
    data, notices = chart_map_file(chart, path.suffix)
    path.write_bytes(data)
    return notices


def svg_of(chart: ChartMap) -> str:
    return set_chart_map(chart).svg(title=chart.title, description=chart.description)


def texts(page: VectorPage) -> list[str]:
    return [text.text for text in page.texts]


def assert_clear(page: VectorPage) -> None:
    """No two texts touch, and all stand within the margins."""
    for text in page.texts:
        box = text.box
        assert 1200 <= box.left < box.right <= 21000 - 1200, text
        assert 1200 <= box.top < box.bottom <= 29700 - 1000, text
    for one, other in combinations(page.texts, 2):
        assert not one.box.meets(other.box, gap=-4.0), (one, other)


@pytest.mark.slow
@pytest.mark.sampled
@pytest.mark.parametrize("name", CHARTS)
@pytest.mark.parametrize("instrument", ["concert", "alto-sax"])
def test_texts_touch_neither_each_other_nor_the_edge(name: str, instrument: str) -> None:
    page = set_chart_map(map_of(CHARTS[name], instrument))
    assert len(page.texts) > 20
    assert_clear(page)


@pytest.mark.slow
@settings(deadline=None, max_examples=25)
@given(charts, st.sampled_from(sorted(INSTRUMENTS)))
def test_no_chart_makes_texts_touch(chart: str, instrument: str) -> None:
    assert_clear(set_chart_map(map_of(chart, instrument)))


@pytest.mark.sampled
@pytest.mark.parametrize("name", CHARTS)
def test_sixty_four_bars_and_less_can_be_read(name: str) -> None:
    chart = map_of(CHARTS[name])
    assert set_chart_map(chart).smallest_mm >= READABLE_MM, name


def test_every_chord_key_and_changing_note_stands_on_the_map() -> None:
    """Two dominants a fourth apart: one note changes, the seventh of one for the third."""
    words = texts(set_chart_map(map_of("| D7 | G7 |")))
    assert {"F♯→F", "F→F♯", "D major", "1", "2"} <= set(words)
    assert words.count("6 stay") == 2
    assert words.count("7") == 2


def test_guide_tones_are_the_bold_ones() -> None:
    (bar,) = map_of("| Bm7b5 E7 |").bars
    strong = [[tone.name for tone in chord.tones if tone.strong] for chord in bar.chords]
    assert strong == [["D", "A"], ["G♯", "D"]]


def test_a_held_chord_changes_where_it_ends() -> None:
    chart = map_of("| A7 | | D7 | |")
    changes = [bar.chords[-1].change for bar in chart.bars]
    assert [change and [move.text for move in change.moves] for change in changes] == [
        None,
        ["C♯→C"],
        None,
        ["C→C♯"],
    ]
    assert [chord.symbol is None for bar in chart.bars for chord in bar.chords] == [
        False, True, False, True,
    ]  # fmt: skip


MOVING = "key: C\n| Dm7 | G7 | Cmaj7 | | Abm7 | Db7 | Gbmaj7 | | Dm7 | G7 | Cmaj7 | |"


def test_each_stretch_of_chords_has_its_key() -> None:
    assert map_of(MOVING).keys == ("C major", "G♭ major", "C major")


def rectangles(page: VectorPage) -> list[tuple[float, float, float, float]]:
    """Left, top, right and bottom of each."""
    typed = re.findall(
        r'<rect x="(-?\d+)" y="(\d+)" width="(\d+)" height="(\d+)"', "".join(page.shapes)
    )
    return [
        (float(x), float(y), float(x) + float(wide), float(y) + float(high))
        for x, y, wide, high in typed
    ]


def test_a_bracket_is_shut_where_its_key_begins_and_ends() -> None:
    """Feet hang from the ribbon: one at each end of a key, none where a line only goes on."""
    page = set_chart_map(map_of(MOVING))
    names = [text.box for text in page.texts if text.text.endswith(" major")]
    assert len(names) == 3
    feet = [
        sum(
            left < box.left and right - left < 40 and top < box.bottom < bottom + 200
            for left, top, right, bottom in rectangles(page)
            if bottom - top < 400 and abs(top - box.top) < 300
        )
        for box in names
    ]
    assert feet == [1, 1, 1]
    going_on = set_chart_map(map_of("key: C\n| C | F | G7 | C | F | G7 | C | F | G7 |"))
    thin = [r for r in rectangles(going_on) if r[2] - r[0] < 40 and 100 < r[3] - r[1] < 400]
    assert len(thin) == 2


def test_nothing_is_told_by_a_tint() -> None:
    """A copier has black and white: what is filled is dark, and thin or text."""
    svg = svg_of(map_of(TWELVE))
    fills = set(re.findall(r'fill="(#[0-9a-f]+)"', svg))
    assert all(luminance(fill) < 0.2 for fill in fills - {"#fff"})
    assert all(
        min(right - left, bottom - top) < 100
        for left, top, right, bottom in rectangles(set_chart_map(map_of(TWELVE)))
    )


def luminance(colour: str) -> float:
    """Relative luminance of ``#rgb`` or ``#rrggbb``, 0 to 1 (WCAG 2.2)."""
    digits = colour[1:] if len(colour) == 7 else "".join(2 * digit for digit in colour[1:])
    channels = [int(digits[n : n + 2], 16) / 255 for n in (0, 2, 4)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


CONTRASTS = {vector_page.INK: 7.0, vector_page.SOFT_INK: 7.0, vector_page.PALE_INK: 4.5}


def test_text_is_dark_on_white() -> None:
    """Contrast of 7 to 1 for what is read (level AAA), 4.5 for what only repeats a key (AA)."""
    for ink, ratio in CONTRASTS.items():
        assert 1.05 / (luminance(ink) + 0.05) >= ratio, ink


@pytest.mark.parametrize("count", [3, 4, 7, 8, 12, 16, 32, 36, 64])
def test_the_bars_fill_the_page(count: int) -> None:
    """From under the title to the legend: nine tenths of what there is, and the legend below."""
    page = set_chart_map(map_of(" | ".join((["Dm7", "G7", "Cmaj7", "A7"] * 16)[:count])))
    lowest = max(bottom for _, _, _, bottom in rectangles(page))
    legend = next(text.box for text in page.texts if text.text == "bold: guide tones")
    assert lowest < legend.top
    assert lowest > 0.88 * 29700
    assert min(text.size for text in page.texts) >= 165


@pytest.mark.slow
def test_a_line_with_room_has_each_scale_with_its_notes() -> None:
    words = texts(set_chart_map(map_of("| Dm7 | G7 | Cmaj7 | A7 |")))
    assert {"Dorian", "Mixolydian", "Ionian"} <= set(words)
    assert "Dorian" not in texts(set_chart_map(map_of(SIXTY_FOUR)))


def test_a_chord_that_begins_inside_a_bar_says_where() -> None:
    bars = map_of("meter: 4/4\n| Dm7 . . G7 | {6/8} C F | {5/4} Am7 . . D7 . |").bars
    assert [[chord.note for chord in bar.chords] for bar in bars] == [
        ["", "beat 4"], ["", "beat 2"], ["", "beat 4"],
    ]  # fmt: skip


@pytest.mark.parametrize("bars", ["Bb | Gm7 |", "Bb | Gm7 | C7 | F7 | Bb | Gm7 | C7 | F7 |"])
def test_a_pickup_stands_before_bar_one_and_in_no_key(bars: str) -> None:
    """On the first line, with its own beat, and left of the bracket of the first key."""
    chart = map_of(f"key: Bb\n{{pickup 1}} F7 | {bars}", "trumpet")
    page = set_chart_map(chart)
    places = {text.text: text.box for text in reversed(page.texts)}
    assert {"pickup", "beat 4"} <= places.keys()
    assert places["pickup"].right < places["1"].left
    assert places["pickup"].top == pytest.approx(places["1"].top)
    assert places["pickup"].right < places["C major"].left
    assert ". pickup: G7; 1: C; 2: Am7" in chart.description


def test_sections_and_the_double_bars_before_them_stand_on_the_map() -> None:
    chart = map_of("[A]\n| C | F |\n[B]\n| G7 | C |")
    assert [bar.section for bar in chart.bars] == ["A", "", "B", ""]
    assert [str(bar.barline) for bar in chart.bars] == ["single", "double", "single", "final"]
    assert {"A", "B"} <= set(texts(set_chart_map(chart)))


@pytest.mark.sampled
@pytest.mark.parametrize("name", CHARTS)
def test_the_picture_is_well_formed_and_needs_nothing_else(name: str, tmp_path: Path) -> None:
    path = tmp_path / "map.svg"
    write_chart_map(path, map_of(CHARTS[name]))
    root = ElementTree.parse(path).getroot()
    assert (root.get("width"), root.get("height")) == ("210mm", "297mm")
    defined = {path.get("id") for path in root.iter(f"{SVG}path")}
    used = [use.get("{http://www.w3.org/1999/xlink}href", "") for use in root.iter(f"{SVG}use")]
    assert len(used) > 50
    assert {name.removeprefix("#") for name in used} == defined
    tags = {element.tag.removeprefix(SVG) for element in root.iter()}
    assert tags == {"svg", "title", "desc", "defs", "path", "rect", "g", "use"}


@pytest.mark.slow
@pytest.mark.parametrize("name", ["4", "64", "long"])
def test_the_page_is_one_of_a4_with_white_margins(name: str, tmp_path: Path) -> None:
    path = tmp_path / "map.pdf"
    write_chart_map(path, map_of(CHARTS[name]))
    pdf = pypdfium2.PdfDocument(path)
    assert len(pdf) == 1
    assert pdf[0].get_size() == pytest.approx((595.28, 841.89), abs=0.1)
    image = pdf[0].render(scale=2).to_numpy()
    edge = round(11 / 25.4 * 144)
    assert image[:edge].min() == image[-edge:].min() == 255
    assert image[:, :edge].min() == image[:, -edge:].min() == 255
    assert image[edge:-edge].min() < 60


@pytest.mark.slow
def test_what_is_drawn_lies_in_the_boxes_of_the_texts(tmp_path: Path) -> None:
    """Ink outside all boxes is only that of bar lines, edges of keys and strokes of holding."""
    chart = map_of(LONG)
    path = tmp_path / "map.pdf"
    write_chart_map(path, chart)
    scale = 4
    image = pypdfium2.PdfDocument(path)[0].render(scale=scale).to_numpy().min(axis=2).copy()
    pixels = scale * 72 / 2540
    page = set_chart_map(chart)
    lines = re.findall(
        r'<rect x="(\d+)" y="(\d+)" width="(\d+)" height="(\d+)"',
        page.svg(title="", description=""),
    )
    thin = [[float(n) for n in line] for line in lines if min(int(line[2]), int(line[3])) < 100]
    boxes = [(t.box.left, t.box.top, t.box.right, t.box.bottom) for t in page.texts]
    boxes += [(x, y, x + wide, y + high) for x, y, wide, high in thin]
    for left, top, right, bottom in boxes:
        rows = slice(int(top * pixels) - 1, int(bottom * pixels) + 2)
        image[rows, int(left * pixels) - 1 : int(right * pixels) + 2] = 255
    assert image.min() > 128  # less than half of any pixel


@pytest.mark.slow
def test_the_same_chart_gives_the_same_bytes(tmp_path: Path) -> None:
    for name in ("map.svg", "map.pdf"):
        write_chart_map(tmp_path / name, map_of(TWELVE))
        first = (tmp_path / name).read_bytes()
        write_chart_map(tmp_path / name, map_of(TWELVE))
        assert (tmp_path / name).read_bytes() == first


@pytest.mark.slow
def test_a_page_too_full_to_read_is_said(tmp_path: Path) -> None:
    full = map_of("| " + " | ".join(["Dm7 G7", "Cm7 F7"] * 120))
    (notice,) = write_chart_map(tmp_path / "map.svg", full)
    assert "240 bars on one page make text of" in notice


@pytest.mark.slow
@pytest.mark.sampled
@pytest.mark.parametrize(
    ("title", "printed"),
    [
        ("Вечерний класс é ß", "Вечерний класс é ß"),
        ("e\u0301toile", "étoile"),
        ("a < b & \"c\" > 'd'", "a < b & \"c\" > 'd'"),
        ("bell\u0007 and \ud800", "bell  and  "),
        ("zero\u200dwidth", "zero width"),
    ],
)
def test_a_title_is_printed_as_it_stands(title: str, printed: str, tmp_path: Path) -> None:
    chart = map_of(FOUR)
    odd = ChartMap(
        title=title,
        facts=chart.facts,
        bars=chart.bars,
        keys=chart.keys,
        description=f"about {title}",
    )
    assert texts(set_chart_map(odd))[0] == printed
    for name in ("map.svg", "map.pdf"):
        assert write_chart_map(tmp_path / name, odd) == ()
    root = ElementTree.parse(tmp_path / "map.svg").getroot()
    assert (
        root.findtext(f"{SVG}title", "").split()
        == title.replace("\u0007", " ").replace("\ud800", " ").replace("\u200d", " ").split()
    )


def test_a_sign_that_no_font_has_is_a_question_mark_and_said(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Fonts differ from machine to machine: here Q is the sign that none has."""
    for place in (drawn_page, glyphs):
        monkeypatch.setattr(place, "missing_glyphs", lambda signs: tuple(set(signs) & {"Q"}))
    chart = map_of(f"title: Quick Quartet\n{FOUR}")
    assert texts(set_chart_map(chart))[0] == "?uick ?uartet"
    notices = write_chart_map(tmp_path / "map.svg", chart)
    assert notices == ("no font here has Q; the map has ? in its place",)


def test_a_long_title_stays_in_one_line_on_the_page() -> None:
    chart = map_of(f"title: {'the evening class ' * 12}\n{FOUR}")
    assert_clear(set_chart_map(chart))


def test_the_picture_says_its_chords_in_words() -> None:
    chart = map_of("title: Room Twelve\n| Dm7 G7 | Cmaj7 | |")
    assert chart.description == "Room Twelve, bar by bar. 1: Dm7 G7; 2: Cmaj7; 3: holds."
    assert "<desc>Room Twelve, bar by bar" in svg_of(chart)
