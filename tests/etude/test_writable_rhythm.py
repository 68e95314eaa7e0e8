"""Rhythms that no note value can write are laid on sixteenths, others stay as they are."""

from __future__ import annotations

from fractions import Fraction

from hypothesis import given
from hypothesis import strategies as st

from halfstep.etude.writable_rhythm import writable_line
from halfstep.harmony.line_over_chords import LineNote
from halfstep.notation import NOTE_VALUES, lengths_at, plain_beats
from halfstep.progression.chart import Chart
from typed_charts import load_chart

FORMS = tuple(
    load_chart(f"meter: {meter}\n| Dm7 | G7 | Cmaj7 |") for meter in ("4/4", "3/4", "6/8", "5/4")
)


def row(count: int, each: Fraction) -> list[LineNote]:
    return [LineNote(n * each, each, 60 + n) for n in range(count)]


def test_sixteenths_triplets_and_fives_stay() -> None:
    for part in (4, 3, 5, 6):
        notes = row(2 * part, Fraction(1, part))
        line = writable_line(notes, FORMS[0])
        assert (list(line.notes), line.bars) == (notes, ())


def test_of_thirty_seconds_every_other_one_stays() -> None:
    line = writable_line(row(8, Fraction(1, 8)), FORMS[0])
    assert line.bars == (1,)
    assert [(note.onset, note.beats, note.midi) for note in line.notes] == [
        (Fraction(n, 4), Fraction(1, 4), 60 + 2 * n) for n in range(4)
    ]


@given(
    st.sampled_from(FORMS),
    st.lists(st.tuples(st.integers(1, 40), st.sampled_from([2, 3, 4, 5, 7, 8, 12, 13]))),
)
def test_every_line_can_be_written_note_by_note(chart: Chart, steps: list[tuple[int, int]]) -> None:
    """Whatever rhythm comes in, its notes have values."""
    notes, at = [], Fraction(0)
    for count, part in steps:
        length = Fraction(count, part)
        if at + length > chart.beats:
            break
        notes.append(LineNote(at, length, 60))
        at += length + (Fraction(1, part) if count % 3 == 0 else 0)
    line = writable_line(notes, chart).notes
    for bar, start in chart.placed():
        for note in line:
            first, last = max(note.onset, start), min(note.onset + note.beats, start + bar.beats)
            if first < last:
                lengths = lengths_at(bar.meter, first - start, last - first)
                assert all(plain_beats(length) in NOTE_VALUES for length in lengths)
