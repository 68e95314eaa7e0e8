"""An etude that was stored, opened again as it was written."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from pathlib import Path
from typing import NamedTuple

from halfstep.data.etude_json import read_etude
from halfstep.errors import BriefError, ReadError
from halfstep.etude.ending_choice import ending_after
from halfstep.etude.etude_brief import Brief
from halfstep.etude.line_check import LineCheck, line_check
from halfstep.etude.line_marks import marked_line
from halfstep.etude.written_etude import Etude
from halfstep.harmony.analysis import analyse
from halfstep.part.transposed_part import Part, part_for
from halfstep.progression.excerpt import WholeForm
from halfstep.services.request_fields import player_of

_KEPT = 32


class OpenedEtude(NamedTuple):
    """An etude as it was stored and as it was written, how its player reads it, its rules.

    Of a few bars also what they are of.
    """

    text: str
    etude: Etude
    part: Part
    check: LineCheck
    whole: WholeForm | None


def opened_etude(source: str | Path) -> OpenedEtude:
    """The etude in a text or a file.

    Raises
    ------
    BriefError
        When it is no etude of this program.
    """
    try:
        text = source if isinstance(source, str) else source.read_text(encoding="utf-8")
        return _opened(text)
    except (OSError, ValueError, ReadError) as error:
        reason = error.marked_text if isinstance(error, ReadError) else "cannot be read"
        raise BriefError(f"`etude`: {reason}") from None


@lru_cache(_KEPT)
def _opened(text: str) -> OpenedEtude:
    """Kept, since each edit of a line opens the etude that it stands on."""
    stored = read_etude(text)
    analysis = analyse(stored.chart, level=stored.level)
    player = player_of(stored.instrument)
    has_ending = len(stored.line) > len(stored.notes)
    brief = Brief(
        player,
        stored.level,
        stored.tempo_bpm,
        stored.seed,
        stored.limits,
        known=stored.known,
        feel=stored.feel,
        ending=has_ending or None,
        articulation=stored.articulation,
    )
    if any(not 0 <= note.chord < len(analysis.chords) for note in stored.notes):
        raise ReadError("its notes are not as halfstep writes them")
    explained, brief = stored.step.explained(analysis), stored.step.brief_for(brief)
    etude = Etude(step=stored.step, analysis=explained, brief=brief, notes=stored.notes)
    notes = marked_line(stored.notes, etude)
    ending = ending_after(notes, analysis, brief) if has_ending else None
    etude = replace(etude, notes=notes, ending=ending)
    return OpenedEtude(text, etude, part_for(analysis, player), line_check(etude), stored.whole)
