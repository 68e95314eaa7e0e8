"""How wrong is the ear? What was measured of it, as data for whoever judges by it.

A figure holds for one player near a microphone. Onsets are those of notes that players
recorded, joined into lines; `bench/known_errors.py` makes every figure again and holds it
against lines that none was chosen on.
"""

from __future__ import annotations

from dataclasses import dataclass

CERTAINTY_CLASSES = (("sure", 0.98), ("likely", 0.8), ("unsure", 0.0))
"""Names of the classes, and the certainty from which each holds."""
SLOW_BPM = 150.0


@dataclass(frozen=True, slots=True)
class KnownErrors:
    """What is known of the ear's errors with one instrument.

    Attributes
    ----------
    instrument : str
        Whose figures they are; empty for those of all instruments together.
    onset_bias_ms : float
        The middle of how late a note is heard; negative where it is heard early.
    onset_spread_ms : float
        Half of the way from the 5th to the 95th percentile of it.
    cents : float
        Half of all notes are heard within so much of their pitch.
    swing_sd_slow, swing_sd_fast : float
        Standard deviation of the swing ratio heard in a line, long eighth over short, up to
        150 beats a minute and from there on; an off-beat's place in the beat, r / (1 + r), is
        off by 1 / (1 + r)² of it. They were met on takes of other rooms and players; swung
        lines of a sound bank give as much up to 150 beats a minute, and half of it above.
    """

    instrument: str
    onset_bias_ms: float
    onset_spread_ms: float
    cents: float = 3.0
    swing_sd_slow: float = 0.015
    swing_sd_fast: float = 0.05

    def swing_sd(self, bpm: float) -> float:
        """Standard deviation of the swing ratio at a tempo."""
        return self.swing_sd_slow if bpm <= SLOW_BPM else self.swing_sd_fast


ANY = KnownErrors("", 1.0, 15.0)
_MEASURED = {
    errors.instrument: errors
    for errors in (
        KnownErrors("saxophone", 2.0, 10.0),
        KnownErrors("clarinet", 3.0, 12.0),
        KnownErrors("trombone", 1.0, 12.0),
    )
}
_FAMILY = {"sax": "saxophone"}


def known_errors(instrument: str = "") -> KnownErrors:
    """What is known with an instrument; the general figures where it was not measured apart.

    >>> known_errors("alto-sax").instrument, known_errors("oboe").instrument
    ('saxophone', '')
    """
    family = instrument.rpartition("-")[2]
    return _MEASURED.get(_FAMILY.get(family, family), ANY)


def certainty_class(certainty: float) -> str:
    """The class of a note's certainty.

    >>> [certainty_class(c) for c in (0.99, 0.9, 0.5)]
    ['sure', 'likely', 'unsure']
    """
    return next(name for name, limit in CERTAINTY_CLASSES if certainty >= limit)
