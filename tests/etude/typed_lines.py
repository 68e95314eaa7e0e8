"""Lines typed by hand, with the places they are written for: what the rules are asked of.

A note is its concert name and octave, an eighth unless marked: ``-`` a quarter, ``--`` a
half, ``----`` four beats; ``r`` is a rest, ``,`` a breath, ``!`` says that the line must
have turned at the note before, ``@`` that it is the high point of the line, and ``/`` that
the next note may not lie across a break after B4. ``~`` leads to the next note, ``^`` in
the scale alone, ``(`` and ``)`` are the first and second around it, ``*`` is free to leave
the scale, ``{2}`` is two steps of a motif above the note before, and
``=`` asks for the strict form of what is asked there. ``|`` is only for the
eye.
"""

from __future__ import annotations

import re
from bisect import bisect_right
from fractions import Fraction

from halfstep.etude.etude_brief import Brief
from halfstep.etude.etude_notes import Approach, EtudeNote
from halfstep.etude.palette import chord_palettes
from halfstep.etude.slots import Leads, Slot
from halfstep.etude.steps import find_step
from halfstep.etude.written_etude import Etude
from halfstep.harmony.analysis import Analysis, analyse
from halfstep.instruments import INSTRUMENTS
from halfstep.level import Level
from halfstep.pitch import parse_pitch
from typed_charts import read_chart_text

LEADS = {
    "": Leads.NOT, "~": Leads.NEIGHBOUR, "^": Leads.SCALE_NEIGHBOUR, "(": Leads.AROUND_FIRST,
    ")": Leads.AROUND_SECOND, "*": Leads.FREE,
}  # fmt: skip
BARRIER = 71
_NOTE = re.compile(
    r"(?P<pitch>r|[A-G][b#]*\d)(?P<length>-*)(?P<leads>[~^()*]?)(?:\{(?P<motif>-?\d)\})?"
    r"(?P<breath>,?)(?P<turn>!?)(?P<peak>@?)(?P<barred>/?)(?P<strict>=?)"
)


def typed(
    step: str,
    chart: str,
    line: str,
    *,
    instrument: str = "voice",
    tempo_bpm: float = 200.0,
    level: Level = Level.INTERMEDIATE,
    seed: int = 0,
) -> tuple[Etude, list[Slot]]:
    """The etude that a line writes over a chart, and its slots."""
    analysis = find_step(step).explained(analyse(read_chart_text(chart)))
    brief = Brief(INSTRUMENTS[instrument], level, tempo_bpm, seed)
    found = chord_palettes(analysis, brief)
    words = [word for word in line.split() if word != "|"]
    starts = [here.span.start for here in analysis.chords]
    peaks = [parse_pitch(_NOTE.fullmatch(w)["pitch"]).midi for w in words if "@" in w]  # type: ignore[index]
    top = peaks[0] if peaks else None
    notes, slots = [], []
    onset, chord, entry = Fraction(0), -1, 0
    for word in words:
        parts = _NOTE.fullmatch(word)
        assert parts, word
        beats = Fraction(len(parts["length"])) or Fraction(1, 2)
        here = bisect_right(starts, onset) - 1
        entry = entry + 1 if here == chord else 0
        chord = here
        sounds = parts["pitch"] != "r"
        pitch = parse_pitch(parts["pitch"]) if sounds else None
        outside = pitch is not None and pitch.name not in analysis.chords[chord].scale.names
        approach = Approach.CHROMATIC if outside and parts["leads"] else Approach.NONE
        notes.append(
            EtudeNote(onset, beats, pitch, chord, breath=bool(parts["breath"]), approach=approach)
        )
        strong = entry == 0 or _on_strong_beat(analysis, onset)
        last = len(notes) == len(words) and sounds
        palette = found[chord] if sounds else None
        slots.append(
            Slot(
                onset,
                beats,
                palette,
                strong,
                entry,
                bool(parts["turn"]),
                closes=bool(parts["breath"]),
                last=last,
                motif=int(parts["motif"]) if parts["motif"] else None,
                leads=LEADS[parts["leads"]],
                high_point=top,
                peaks=bool(parts["peak"]),
                barrier=BARRIER if parts["barred"] else None,
                strict=bool(parts["strict"]),
            )
        )
        onset += beats
    etude = Etude(step=find_step(step), analysis=analysis, brief=brief, notes=tuple(notes))
    return etude, slots


def _on_strong_beat(analysis: Analysis, onset: Fraction) -> bool:
    meter = analysis.chart.meter
    return onset % meter.bar_beats in meter.strong_beats
