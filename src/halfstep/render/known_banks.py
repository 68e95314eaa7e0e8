"""Which sound bank plays? The one that ships with the program, unless another is asked for.

The same seed sounds the same on every machine: a bank that the system happens to have is used
only where a call or the environment names it. `find_bank` chooses; `known_banks` lists what there
is to choose from, with its licence.
"""

from __future__ import annotations

import os
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from halfstep.errors import HalfstepError, ReadError
from halfstep.render.soundbank import PERCUSSION_BANK, Bank, read_bank

BANK_VARIABLE = "HALFSTEP_SOUND_BANK"
"""Environment variable naming the sound bank to use."""

SHIPPED_BANK = Path(__file__).with_name("bank.sf3")
"""The program's own; its notice and licence stand beside it."""

BANK_FOLDERS = tuple(
    map(Path, ("/usr/share/sounds/sf2", "/usr/share/sounds/sf3", "/usr/share/soundfonts"))
)
"""Where systems keep banks."""

NOT_STATED = "not stated"

_PACKAGE_FILES = Path("/var/lib/dpkg/info")
_PACKAGE_NOTICES = Path("/usr/share/doc")
_LICENCES = (
    (r"\bMIT\b|Permission is hereby granted, free of charge", "MIT"),
    (r"\bCC0\b", "CC0"),
    (r"\bCC[- ]BY[A-Z0-9. -]*\b|Creative Commons Attribution", "CC BY"),
    (r"\bLGPL|Lesser General Public", "LGPL"),
    (r"\bGPL|GNU General Public", "GPL"),
    (r"\bApache\b", "Apache"),
    (r"\bBSD\b", "BSD"),
    (r"public domain", "public domain"),
)
"""What a licence is known by in a notice; the first that fits."""


@dataclass(frozen=True, slots=True)
class KnownBank:
    """A sound bank on this machine.

    Attributes
    ----------
    path : Path
    licence : str
        As the file or its package states it, or `NOT_STATED`.
    instruments, kits : tuple of str
        The names of its presets.
    fault : str
        Why it cannot be played; empty where it can.
    """

    path: Path
    licence: str
    instruments: tuple[str, ...]
    kits: tuple[str, ...]
    fault: str = ""

    @property
    def is_shipped(self) -> bool:
        """True for the program's own."""
        return self.path == SHIPPED_BANK


def find_bank(path: str | Path | None = None) -> Path:
    """The sound bank to use.

    Parameters
    ----------
    path : str or Path, optional
        A bank by its file. Without one: the file named by ``HALFSTEP_SOUND_BANK``, else the
        program's own.

    Raises
    ------
    ReadError
        When the file that is named is not there.
    """
    named = path or os.environ.get(BANK_VARIABLE)
    if not named:
        return SHIPPED_BANK
    if not Path(named).is_file():
        raise ReadError(f"there is no sound bank at {named}")
    return Path(named)


def known_banks() -> tuple[KnownBank, ...]:
    """The program's own, the one that the environment names, and those of the system.

    Raises
    ------
    ReadError
        When the environment names a file that is not there.
    """
    paths = [SHIPPED_BANK, find_bank(), *_system_banks()]
    real = {path.resolve(): path for path in reversed(paths)}
    ordered = dict.fromkeys(path.resolve() for path in paths)
    return tuple(known_bank(real[path]) for path in ordered)


def _system_banks() -> Iterator[Path]:
    for folder in BANK_FOLDERS:
        if folder.is_dir():
            yield from sorted(p for p in folder.iterdir() if p.suffix in {".sf2", ".sf3"})


def known_bank(path: Path) -> KnownBank:
    """What a bank holds and under which licence; never refused."""
    try:
        bank = read_bank(path)
    except HalfstepError as error:
        return KnownBank(path, _packaged_licence(path), (), (), str(error))
    instruments = tuple(name for (kind, _), name in bank.presets.items() if kind == 0)
    kits = tuple(name for (kind, _), name in bank.presets.items() if kind == PERCUSSION_BANK)
    return KnownBank(path, _stated_licence(bank), instruments, kits)


def _stated_licence(bank: Bank) -> str:
    notes = " ".join(bank.texts.get(name, "") for name in (b"ICOP", b"ICMT"))
    return licence_in(notes) or _packaged_licence(bank.path)


def licence_in(notice: str) -> str:
    """The licence that a notice names; empty where it names none that is known."""
    return next((name for sign, name in _LICENCES if re.search(sign, notice, re.I)), "")


def _packaged_licence(path: Path) -> str:
    """The licence in the notice of the Debian package that a file is from."""
    for name in _packages_of(path):
        notice = _PACKAGE_NOTICES / name / "copyright"
        if notice.is_file():
            return licence_in(notice.read_text("utf-8", "replace")) or NOT_STATED
    return NOT_STATED


def _packages_of(path: Path) -> Iterator[str]:
    """Packages that list the file; its name alone is looked for, since folders are linked."""
    sign = f"/{path.resolve().name}\n".encode()
    if not path.is_absolute() or not _PACKAGE_FILES.is_dir():
        return
    for file in sorted(_PACKAGE_FILES.glob("*.list")):
        if sign in file.read_bytes():
            yield file.stem.split(":")[0]
