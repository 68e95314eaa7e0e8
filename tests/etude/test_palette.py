"""What a note may be over each chord: what is in range, in the scale, in the chord.

The scales and tones are handbook facts (a C major seventh has C E G B; the fourth over a
major third is to be avoided); common practice, no source.
"""

from __future__ import annotations

import numpy as np
import pytest
from briefs_over_charts import BriefOverChart, brief_over, midis_of
from hypothesis import given, settings
from hypothesis import strategies as st

from halfstep.errors import BriefError
from halfstep.etude.palette import NAMES_OF_SOUND, Flags, cell_classes, chord_palettes
from halfstep.harmony.analysis import analyse
from halfstep.harmony.note_likelihoods import Weight
from halfstep.pitch import parse_pitch
from halfstep.progression.chart import Chart
from strategies import charts, symbol_texts

II_V_I = brief_over("key: C\n| Dm7 | G7 | Cmaj7 |")


def classes(flags: Flags) -> set[int]:
    return {int(midi) % 12 for midi in np.flatnonzero(flags)}


def named(names: str) -> set[int]:
    return {parse_pitch(f"{name}4").midi % 12 for name in names.split()}


@pytest.mark.parametrize(
    ("chord", "part", "names"),
    [
        (0, "scale", "D E F G A B C"),  # ii of C: Dorian
        (0, "core", "D F A C"),
        (0, "guide", "F C"),
        (0, "cell", "D E F A"),
        (0, "avoid", ""),  # no major third
        (1, "scale", "G A B C D E F"),
        (1, "guide", "B F"),
        (1, "avoid", "C"),
        (1, "cell", "G A B D"),
        (2, "core", "C E G B"),
        (2, "guide", "E B"),
        (2, "avoid", "F"),
        (2, "changing", ""),  # one key: nothing changes
    ],
)
def test_a_palette_holds_what_a_handbook_says(chord: int, part: str, names: str) -> None:
    assert classes(getattr(II_V_I.palette(chord), part)) == named(names)


def test_between_dominants_a_fourth_apart_one_note_changes() -> None:
    """C7 to F7: E falls to E flat, and nothing else moves."""
    request = brief_over("key: F\n| C7 | F7 |")
    assert classes(request.palette(1).changing) == named("Eb")
    assert not request.palette(0).changing.any()  # nothing stands before the first chord


@pytest.mark.parametrize(
    ("symbol", "avoided"),
    [("Cmaj7", "F"), ("C7", "F"), ("C7sus4", ""), ("Cm7", ""), ("Cmaj7#11", "F"), ("C6", "F")],
)
def test_the_fourth_is_avoided_over_a_major_third_alone(symbol: str, avoided: str) -> None:
    flags = brief_over(f"| {symbol} |").palette(0).avoid
    assert classes(flags) == named(avoided)


@settings(max_examples=20)
@given(symbol_texts(), st.integers(55, 65), st.integers(5, 24))
def test_every_flag_lies_in_range_and_core_in_scale(symbol: str, low: int, width: int) -> None:
    request = brief_over("| Cmaj7 |")
    analysis = analyse(chart_of(symbol))
    brief = type(request.brief)(
        request.brief.instrument, request.brief.level, 120.0, limits=(low, low + width)
    )
    try:
        palette = chord_palettes(analysis, brief)[0]
    except BriefError as error:
        assert "widen the range" in str(error)  # noqa: PT017
        return
    assert palette is not None
    inside = np.flatnonzero(palette.open)
    assert inside.min() == max(low, brief.concert_low)
    assert inside.max() == min(low + width, brief.concert_high)
    for flags in (palette.scale, palette.tones, palette.core, palette.cell, palette.changing):
        assert not (flags & ~palette.open).any()
    for part in (palette.core, palette.tones, palette.guide, palette.cell):
        assert not (part & ~palette.scale).any()


def chart_of(symbol: str) -> Chart:
    return brief_over(f"| {symbol} |").analysis.chart


@pytest.mark.slow
@settings(max_examples=15)
@given(charts(max_bars=3))
def test_ranks_go_up_by_one_from_note_to_note(chart: Chart) -> None:
    analysis = analyse(chart)
    for palette in chord_palettes(analysis, II_V_I.brief):
        if palette is None:
            continue
        for flags, rank in ((palette.scale, palette.scale_rank), (palette.core, palette.core_rank)):
            assert np.diff(rank[np.flatnonzero(flags)]).tolist() == [1] * (int(flags.sum()) - 1)
            assert (np.diff(rank) >= 0).all()


def test_notes_that_are_not_known_are_in_no_part_of_a_palette() -> None:
    request = brief_over("| C7 |", known="C4 D4 E4 F4 G4")
    palette = request.palette(0)
    assert np.flatnonzero(palette.open).tolist() == midis_of("C4 D4 E4 F4 G4")
    assert np.flatnonzero(palette.core).tolist() == midis_of("C4 E4 G4")
    assert not palette.guide[midis_of("Bb4")].any()


@pytest.mark.parametrize(
    ("request_", "text"),
    [
        ({"low": "C5", "high": "C#5", "chart": "| Emaj7 |"}, "no note of Emaj7 lies in the range"),
        ({"known": "D4 A4", "chart": "| Cmaj7 |"}, "no note of Cmaj7 lies in the range of piano"),
    ],
)
def test_a_chord_without_a_note_in_range_is_refused(request_: dict[str, str], text: str) -> None:
    with pytest.raises(BriefError, match=text):
        brief_over(request_.pop("chart"), **request_)  # type: ignore[arg-type]


def test_no_chord_has_no_palette_and_equal_chords_look_alike() -> None:
    request = brief_over("key: C\n| C7 | N.C. | C7 | F7 |")
    assert request.palettes[1] is None
    assert request.palette(0).look != request.palette(3).look
    first, again = brief_over("key: C\n| F7 | C7 | F7 | C7 |").palettes[1::2]
    assert first is not None
    assert again is not None
    assert first.look == again.look


def test_a_longer_chord_looks_otherwise() -> None:
    """Rules ask whether a chord lasts."""
    request = brief_over("| F7 | C7 | F7 | C7 . . F7 |")
    assert request.palette(1).look != request.palette(3).look


@pytest.mark.parametrize(
    ("midi", "goal", "name"),
    [
        ("G#4", "A4", "G♯4"),  # a letter below the note it rises to
        ("Ab4", "G4", "A♭4"),
        ("C#5", "D5", "C♯5"),
        ("Eb4", "D4", "E♭4"),
        ("F#4", "F4", "G♭4"),
        ("Bb4", "A4", "B♭4"),  # in the scale of C7 it keeps its name
    ],
)
def test_a_note_from_outside_is_spelled_a_letter_from_its_goal(
    midi: str, goal: str, name: str
) -> None:
    palette = brief_over("key: F\n| C7 |").palette(0)
    assert str(palette.pitch(parse_pitch(midi).midi, parse_pitch(goal))) == name


def test_a_note_that_leads_nowhere_has_its_usual_name() -> None:
    palette = brief_over("key: F\n| C7 |").palette(0)
    for midi in range(60, 72):
        if midi % 12 not in palette.names:
            assert palette.pitch(midi).name == NAMES_OF_SOUND[midi % 12]
        assert palette.pitch(midi).midi == midi


def test_the_twelve_usual_names_sound_in_order() -> None:
    assert [name.pitch_class for name in NAMES_OF_SOUND] == list(range(12))
    assert max(abs(name.alteration) for name in NAMES_OF_SOUND) == 1


@pytest.mark.parametrize(
    ("symbol", "names"),
    [
        ("Cmaj7", "C D E G"), ("Cm7", "C D Eb G"), ("Dm7b5", "D Eb F Ab"), ("C7sus4", "C D E G"),
        ("C+", "C D E G#"),
    ],
)  # fmt: skip
def test_the_cell_is_root_second_third_and_fifth(symbol: str, names: str) -> None:
    """The chord's own tones where it has them, those of its scale elsewhere."""
    assert cell_classes(brief_over(f"| {symbol} |").analysis.chords[0]) == named(names)


def best_class(request: BriefOverChart, chord: int, weight: Weight) -> int:
    gains = request.palette(chord).gain[weight][:12]
    return int(gains.argmax())


@pytest.mark.parametrize("weight", Weight)
def test_the_note_that_tells_most_of_a_chord_is_one_of_its_own(weight: Weight) -> None:
    """Measured against the mixture of the chart (`halfstep.harmony.note_likelihoods`)."""
    request = brief_over("key: C\n| C7 | F#7 |")
    assert best_class(request, 0, weight) in named("C E G Bb")
    assert best_class(request, 1, weight) in named("F# A# C# E")
    assert (request.palette(0).gain[:, :12] == request.palette(0).gain[:, 60:72]).all()


def test_a_chart_of_one_chord_has_nothing_to_tell() -> None:
    assert np.abs(brief_over("| C7 |").palette(0).gain).max() < 1e-9
