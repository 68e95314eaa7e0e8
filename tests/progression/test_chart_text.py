"""Charts typed as text."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from halfstep.errors import ReadError
from halfstep.meter import Feel, Meter
from halfstep.progression.chart import Chart, spans
from halfstep.progression.key import parse_key
from halfstep.progression.shares import shares_of_bar
from strategies import chart_texts, meters
from typed_charts import read_chart_text


def bars_of(text: str) -> list[list[tuple[str, Fraction]]]:
    chart = read_chart_text(text)
    return [[(c.symbol.ascii, c.at) for c in bar.chords] for bar in chart.bars]


def test_the_header_is_read() -> None:
    chart = read_chart_text(
        "# for Tuesday\ntitle: Evening Class\nkey: Bb\nmeter: 3/4\ntempo: 132\nfeel: Swing\n\n| C |"
    )
    assert chart.title == "Evening Class"
    assert chart.key == parse_key("Bb")
    assert chart.meter == Meter(3, 4)
    assert chart.tempo_bpm == 132
    assert chart.feel is Feel.SWING
    assert chart.notices == ()


def test_everything_in_the_header_may_be_left_out() -> None:
    chart = read_chart_text("C | F")
    assert (chart.title, chart.key, chart.tempo_bpm, chart.feel) == (
        "Through the changes",
        None,
        None,
        None,
    )
    assert chart.meter == Meter(4, 4)


@pytest.mark.parametrize(
    "text", ["| C | F |", "C | F", "| C | F", "C | F ||", "C | F |]", "| C |\n| F |", "C |\nF"]
)
def test_outer_bar_lines_may_be_left_out(text: str) -> None:
    assert bars_of(text) == [[("C", 0)], [("F", 0)]]


@pytest.mark.parametrize(
    ("meter", "bar", "places"),
    [
        ("4/4", "C F", [0, 2]),
        ("4/4", "C F G C", [0, 1, 2, 3]),
        ("3/4", "C F G", [0, 1, 2]),
        ("4/4", "C F G", [0, 2, 3]),
        ("3/4", "C F", [0, 2]),
        ("5/4", "C F", [0, 3]),
        ("6/8", "C F", [0, Fraction(3, 2)]),
        ("6/8", "C F G", [0, 1, 2]),
        ("7/4", "C F G", [0, 3, 5]),
        ("4/4", "C . . F", [0, 3]),
        ("4/4", "C / F /", [0, 2]),
        ("4/4", ". . . F", [3]),
    ],
)
def test_chords_share_the_bar(meter: str, bar: str, places: list[Fraction]) -> None:
    chart = read_chart_text(f"meter: {meter}\n| C | {bar} |")
    assert [c.at for c in chart.bars[1].chords] == places


@pytest.mark.parametrize(("meter", "bar"), [("4/4", "C F G"), ("3/4", "C F"), ("5/4", "C F")])
def test_an_uneven_sharing_is_said(meter: str, bar: str) -> None:
    chart = read_chart_text(f"meter: {meter}\n| {bar} |")
    assert "are read as" in chart.notices[0]


@given(meters(), st.integers(1, 16))
def test_shares_fill_the_bar_longest_first(meter: Meter, count: int) -> None:
    shares, even = shares_of_bar(meter, count)
    assert sum(shares) == meter.bar_beats
    assert list(shares) == sorted(shares, reverse=True)
    assert min(shares) > 0
    assert not even or len(set(shares)) == 1


def test_a_percent_sign_plays_the_bar_before_again() -> None:
    assert bars_of("| C F | % | % |") == [[("C", 0), ("F", 2)]] * 3


def test_an_empty_bar_goes_on_with_its_chord() -> None:
    chart = read_chart_text("| C | | F |")
    assert [(span.symbol.ascii, span.beats) for span in spans(chart)] == [("C", 8), ("F", 4)]


def test_repeats_are_played_twice_and_keep_the_number_on_the_page() -> None:
    chart = read_chart_text("|: C | F :|: G :| A |")
    assert [bar.written for bar in chart.bars] == [1, 2, 1, 2, 3, 3, 4]
    assert [bar.number for bar in chart.bars] == [1, 2, 3, 4, 5, 6, 7]


def test_no_bar_is_made_between_a_repeat_and_the_next() -> None:
    assert len(bars_of("|: C :| |: F :|")) == 4


def test_text_without_bar_lines_has_one_chord_a_bar_and_says_so() -> None:
    chart = read_chart_text("Dm7 G7 Cmaj7")
    assert [bar.chords[0].symbol.ascii for bar in chart.bars] == ["Dm7", "G7", "Cmaj7"]
    assert "one chord is read for each bar" in chart.notices[0]


def test_silence_is_a_chord() -> None:
    assert read_chart_text("| N.C. | C |").bars[0].chords[0].symbol.silent


@pytest.mark.parametrize(
    ("text", "line", "column", "words"),
    [
        ("| C | K7 |", 1, 7, "no chord symbol"),
        ("key: C\n| C | F7x |", 2, 9, "stops making sense"),
        ("composer: Ada\nC |", 1, 1, "known are title, key, meter, tempo, feel"),
        ("key: H\nC |", 1, 6, "no key"),
        ("meter: 4/5\nC |", 1, 8, "no meter"),
        ("tempo: 500\nC |", 1, 8, "from 40 to 300"),
        ("tempo: fast\nC |", 1, 8, "from 40 to 300"),
        ("feel: funky\nC |", 1, 7, "swing or straight"),
        ("title:\nC |", 1, 7, "empty"),
        ("C |\nkey: F", 2, 1, "before the first bar"),
        ("| C . |", 1, 3, "a bar has 4"),
        ("| % |", 1, 3, "no bar before"),
        ("| C | C % |", 1, 9, "alone"),
        (":| C |", 1, 1, "before the first bar"),
        ("|:| C |", 1, 1, "not clear"),
        ("| " + "C " * 17 + "|", 1, 3, "more than 16 chords"),
    ],
)
def test_an_error_says_where_and_what_would_be_right(
    text: str, line: int, column: int, words: str
) -> None:
    with pytest.raises(ReadError, match="sheet") as caught:
        read_chart_text(text, source="sheet")
    assert words in caught.value.message
    assert (caught.value.line, caught.value.column) == (line, column)


@pytest.mark.parametrize("text", ["", "   \n# nothing\n", "title: Empty", "| | |"])
def test_a_chart_without_chords_is_refused(text: str) -> None:
    with pytest.raises(ReadError, match="no chords"):
        read_chart_text(text)


@pytest.mark.slow
def test_too_much_is_refused() -> None:
    with pytest.raises(ReadError, match="2000 bars"):
        read_chart_text("C |" * 2001)
    with pytest.raises(ReadError, match="2000 bars"):
        read_chart_text("|:" + "C |" * 1001 + " C :|")
    with pytest.raises(ReadError, match="1 MB"):
        read_chart_text("C |" * 400_000)


@given(chart_texts())
def test_every_typed_chord_is_in_the_chart(text: str) -> None:
    typed = [word for word in text.split() if word != "|"]
    assert [c.symbol.typed for bar in read_chart_text(text).bars for c in bar.chords] == typed


def read_or_error(text: str) -> Chart | ReadError:
    try:
        return read_chart_text(text)
    except ReadError as error:
        return error


@pytest.mark.slow
@settings(max_examples=300)
@given(st.text(alphabet=st.sampled_from("ABCDm7b#9 |:%./-()\n\t]♭maj keytmpo:4/"), max_size=80))
def test_random_text_is_read_or_refused_with_one_line(text: str) -> None:
    result = read_or_error(text)
    assert "\n" not in str(result) if isinstance(result, ReadError) else result.bars


@given(st.text(max_size=60))
def test_any_characters_are_read_or_refused_with_one_line(text: str) -> None:
    result = read_or_error(text)
    assert "\n" not in str(result) if isinstance(result, ReadError) else result.bars
