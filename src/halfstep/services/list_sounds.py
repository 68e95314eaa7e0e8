"""Which instruments does the program play, and which other banks are there?"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from halfstep.errors import ReadError
from halfstep.render.known_banks import BANK_VARIABLE, KnownBank, find_bank, known_bank, known_banks

BETTER_BANKS = (
    (
        "musescore-general-soundfont-small",
        "a piano recorded in two dynamics, and all instruments of General MIDI",
    ),
    ("fluid-soundfont-gm", "all instruments of General MIDI, in stereo"),
)
"""Packages of Debian and what they give."""


@dataclass(frozen=True, slots=True)
class ListSounds:
    """A request for the sound banks there are.

    Attributes
    ----------
    bank : Path or None
        The one that would be used; None takes that of the environment, or the program's own.
    """

    bank: Path | None = None


@dataclass(frozen=True, slots=True)
class SoundsReply:
    """The banks of this machine.

    Attributes
    ----------
    used : KnownBank
        The one that plays.
    others : tuple of KnownBank
        Those that play when they are asked for.
    advice : tuple of str
        How to have another one.
    """

    used: KnownBank
    others: tuple[KnownBank, ...]
    advice: tuple[str, ...]


def list_sounds(request: ListSounds) -> SoundsReply:
    """The bank that plays, and the others.

    Raises
    ------
    ReadError
        When the bank that is named is not there, or is none.
    """
    used = known_bank(find_bank(request.bank))
    if used.fault:
        raise ReadError(used.fault)
    others = [bank for bank in known_banks() if bank.path.resolve() != used.path.resolve()]
    return SoundsReply(used, tuple(others), tuple(_advice()))


def _advice() -> list[str]:
    return [
        f"Another bank plays only where it is asked for: --bank FILE, or {BANK_VARIABLE}=FILE for "
        "good. A seed sounds the same wherever the same bank plays.",
        *(f"Debian's package {name} has {gives}." for name, gives in BETTER_BANKS),
    ]
