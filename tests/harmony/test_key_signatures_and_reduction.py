"""Fitting signatures, and what is left of changes that come fast; held against search."""

from __future__ import annotations

from fractions import Fraction
from itertools import groupby, pairwise, product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from halfstep.harmony.analysis import Analysis, analyse
from halfstep.harmony.key_signatures import CHANGE, fitting_signatures
from halfstep.harmony.reduction import may_skip, one_note_line, triad
from halfstep.harmony.scales import MODES, Scale, scale_over
from halfstep.pitch import Name, name_at
from halfstep.progression.key import alterations
from name_intervals import ascending
from typed_charts import read_chart_text

SCALES = st.builds(
    scale_over,
    st.integers(-6, 6).map(name_at),
    st.sampled_from(["Mixolydian", "Dorian", "altered"]),
)


def analysed(text: str) -> Analysis:
    return analyse(read_chart_text(text))


def accidentals(scale: Scale | None, fifths: int) -> int:
    given_by = alterations(fifths)
    names = scale.names if scale else ()
    return sum(name.alteration != given_by["CDEFGAB"[name.letter]] for name in names)


def cost(scales: list[Scale | None], path: tuple[int, ...], home: int) -> int:
    changes = sum(a != b for a, b in pairwise(path))
    notes = sum(accidentals(scale, fifths) for scale, fifths in zip(scales, path, strict=True))
    return CHANGE * changes + notes + (path[0] != home)


@pytest.mark.slow
@settings(max_examples=40, deadline=None)
@given(st.lists(st.none() | SCALES, min_size=1, max_size=4), st.integers(-3, 3))
def test_no_path_of_signatures_is_cheaper(scales: list[Scale | None], home: int) -> None:
    """Against all paths through the fifteen signatures, or seven where they are many."""
    found = fitting_signatures(scales, home=home)
    path = tuple(run.fifths for run in found for _ in range(run.first, run.last + 1))
    known = range(-7, 8) if len(scales) < 4 else sorted({*path, *range(home - 3, home + 4)})
    best = min(cost(scales, each, home) for each in product(known, repeat=len(scales)))
    assert cost(scales, path, home) <= best
    assert [key for key, _ in groupby(path)] == [run.fifths for run in found]


@pytest.mark.parametrize(
    ("chart", "signatures"),
    [
        ("| Dm7 | G7 | Cmaj7 | % |", [0]),
        ("key: Eb\n| Fm7 | Bb7 | Ebmaj7 | C7 |", [-3]),
        ("| Cmaj7 Eb7 | Abmaj7 B7 | Emaj7 G7 | Cmaj7 |", [0, -4, 4, 0]),
        ("| Dm7 | Db7 | Cmaj7 | % |", [0]),
    ],
)
def test_a_chorus_has_few_signatures(chart: str, signatures: list[int]) -> None:
    assert [run.fifths for run in analysed(chart).signatures] == signatures


@pytest.mark.parametrize(
    ("chart", "skipped"),
    [
        ("| Dm7 G7 | Cmaj7 |", {0: "play G7 through both"}),
        ("| Cmaj7 | Dm7 G7 | Cmaj7 |", {1: "play G7 through both"}),
        ("| Cmaj7 C#dim7 | Dm7 G7 | C |", {1: "", 2: "play G7 through both", 3: ""}),
        ("| Cmaj7 A7 | Dm7 G7 | C |", {1: ""}),
        ("| Cmaj7 | Dm7 | G7 | C |", {1: "", 2: ""}),
        ("| Cmaj7 | Dm7b5 G7 | Cm | % |", {1: "play G7 through both"}),
        ("key: C\n| C | Gm7 C7 | F | G7 |", {1: "play C7 through both"}),
        ("key: C\n| C | Dm7 | G7 C | Dm7 |", {1: "", 3: ""}),
        ("| C | F/G | C | G7 |", {1: ""}),
    ],
)
def test_only_the_two_of_a_fast_two_five_is_skipped(chart: str, skipped: dict[int, str]) -> None:
    reasons = may_skip(analysed(chart))
    for place, said in skipped.items():
        reason = reasons[place]
        assert (reason.sentence() if reason else "") == said


def test_no_two_neighbours_are_skipped_and_never_the_tonic() -> None:
    analysis = analysed("| Cmaj7 C#dim7 Dm7 D#dim7 | Em7 A7 Dm7 G7 | Cmaj7 F/G C Cdim7 |")
    skipped = [reason is not None for reason in may_skip(analysis, beats=Fraction(4))]
    assert any(skipped)
    assert not any(a and b for a, b in pairwise(skipped))
    assert all(
        here.function.role.value != "tonic"
        for here, skip in zip(analysis.chords, skipped, strict=True)
        if skip
    )


def test_a_triad_keeps_the_three_notes_that_name_the_chord() -> None:
    analysis = analysed("| Dm7b5 | G13b9 | C7sus4 | N.C. |")
    said = [" ".join(tone.name.ascii for tone in triad(here)) for here in analysis.chords]
    assert said == ["D F Ab", "G B D", "C F G", ""]


def motion(path: tuple[Name, ...], analysis: Analysis) -> float:
    heard = [here for here in analysis.chords if not here.silent]
    steps = ((b.pitch_class - a.pitch_class) % 12 for a, b in pairwise(path))
    outside = sum(
        name not in {tone.name for tone in here.guides}
        for name, here in zip(path, heard, strict=True)
    )
    return sum(min(step, 12 - step) for step in steps) + outside


@pytest.mark.parametrize(
    "chart",
    ["| Dm7 G7 | Cmaj7 A7 |", "| Cmaj7 Eb7 | Abmaj7 B7 | E |", "| C5 | N.C. | F7alt | Bb6 |"],
)
def test_no_line_of_one_note_a_chord_moves_less(chart: str) -> None:
    analysis = analysed(chart)
    found = tuple(name for name in one_note_line(analysis) if name)
    heard = [here for here in analysis.chords if not here.silent]
    offers = [[tone.name for tone in here.core] for here in heard]
    assert motion(found, analysis) == min(motion(path, analysis) for path in product(*offers))


def test_a_teacher_sets_a_scale_and_it_stays() -> None:
    """Through repeats, in any key, at any level; the other choices follow it."""
    chart = read_chart_text("|: Dm7 | G7 {scale half-whole diminished} :| C |")
    for interval in (ascending(Name(0), Name(2, -1)), ascending(Name(0), Name(5))):
        analysis = analyse(chart.moved(interval))
        set_ = [here for here in analysis.chords if here.span.scale]
        assert [here.scale.mode.label for here in set_] == ["half-whole diminished"] * 2
        assert set_[0].choices[0].reason.sentence() == "the teacher has set it"
        assert set_[0].choices[1].scale.mode.label == "Mixolydian"


@pytest.mark.parametrize("label", MODES)
def test_any_scale_may_be_set_over_any_chord(label: str) -> None:
    here = analysed(f"| C7 {{scale {label.lower()}}} | F |").chords[0]
    assert here.scale.mode.label == label


def test_a_scale_that_is_not_known_is_told_with_its_bar() -> None:
    with pytest.raises(Exception, match=r"bar 2: 'loud' is no scale; known are Ionian, Dorian"):
        analysed("| C | G7 {scale loud} |")
