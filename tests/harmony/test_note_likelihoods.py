"""The learned table: are its figures those of the file, and is every chord in its family?"""

from __future__ import annotations

import json
from fractions import Fraction

import pytest

from halfstep.harmony.note_likelihoods import (
    SHARES,
    ChordFamily,
    Weight,
    chord_family,
    log_shares,
    on_beat,
    weight_at,
)
from halfstep.meter import Meter
from halfstep.progression.symbol import parse_symbol
from solos import CHORD, DATA, needs_tables, rows, translated

FAMILIES_OF_TYPES = {
    "maj": "maj", "6": "maj", "maj7": "maj", "7": "dom", "min": "min", "min6": "min",
    "min7": "min", "minmaj7": "min", "m7b5": "hdim", "o": "dim", "o7": "dim", "NC": None,
}  # fmt: skip
"""The family of each of the authors' chord types, as their names say."""


@needs_tables
def test_the_figures_are_those_that_were_counted() -> None:
    """Source: ``emissions_wjd.json``, counted on the tables of jazzodata @ 0dc98cf (MIT)."""
    counted = json.loads((DATA / "emissions_wjd.json").read_text("utf-8"))["emission_rel_pc"]
    places = ("beat1/3", "beat2/4", "offbeat")
    assert {family.value: rows for family, rows in SHARES.items()} == {
        family: tuple(tuple(places_of[place]) for place in places)
        for family, places_of in counted.items()
    }


def test_each_row_is_shares_of_one_whole() -> None:
    """To the rounding of the figures: twelve of them to four places."""
    for table in SHARES.values():
        assert len(table) == len(Weight)
        for row in table:
            assert len(row) == 12
            assert sum(row) == pytest.approx(1, abs=6e-4)


@needs_tables
def test_every_symbol_is_in_the_family_of_the_authors_type() -> None:
    """All 410 symbols of the solos, suspended and augmented triads with the dominants."""
    differ = {
        row["chord_symbol"]
        for row in rows("wjd_chord_symbol_to_authors_type.csv")
        if (found := CHORD.fullmatch(row["chord_symbol"]))
        and chord_family(parse_symbol(translated(found)))
        != FAMILIES_OF_TYPES[row["authors_chord_type"]]
    }
    assert differ == set()


@pytest.mark.parametrize(
    ("text", "family"),
    [
        ("C5", ChordFamily.DOMINANT),
        ("C+maj7", ChordFamily.MAJOR),
        ("C6sus4", ChordFamily.MAJOR),
        ("C7b5", ChordFamily.DOMINANT),
        ("Cm(maj7)", ChordFamily.MINOR),
        ("Cm6", ChordFamily.MINOR),
        ("Cdim(maj7)", ChordFamily.DIMINISHED),
        ("N.C.", None),
    ],
)
def test_what_was_hardly_counted_is_put_where_the_page_says(
    text: str, family: ChordFamily | None
) -> None:
    assert chord_family(parse_symbol(text)) == family


def test_the_likelihoods_turn_with_the_root() -> None:
    """A major third on a strong beat, over C and over A♭."""
    third = 12 * Weight.STRONG
    over_c = log_shares(ChordFamily.MAJOR, 0)[third + 4]
    assert log_shares(ChordFamily.MAJOR, 8)[third + 0] == over_c
    assert log_shares(ChordFamily.MAJOR, 0)[12 * Weight.OFF + 4] != over_c


@pytest.mark.parametrize(
    ("meter", "weights"),
    [
        (Meter(4, 4), "S.B.S.B."),
        (Meter(3, 4), "S.B.B."),
        (Meter(2, 2), "S.B.S.B."),
        (Meter(5, 4), "S.B.B.S.B."),
        (Meter(6, 8), "S..B.."),
        (Meter(12, 8), "S..B..S..B.."),
    ],
)
def test_weights_of_the_eighths_of_a_bar(meter: Meter, weights: str) -> None:
    """Strong, another beat, or between; common practice, no source."""
    found = [weight_at(meter, float(Fraction(n, 2))) for n in range(len(weights))]
    assert "".join("SB."[weight] for weight in found) == weights


def test_a_note_close_to_a_beat_is_on_it_and_a_sixteenth_away_is_not() -> None:
    assert on_beat(1.9, 1.0) == 2
    assert on_beat(2.1, 1.0) == 2
    assert on_beat(1.75, 1.0) is None
    assert on_beat(Fraction(1, 3), 1.0) is None
