"""What the engraver is given while something is drawn."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any, NamedTuple

from halfstep.render import engraved_systems


class Engraving(NamedTuple):
    """An MEI text, how wide it is set, and whether its lines are stretched to that."""

    mei: str
    width: float
    is_stretched: bool


@contextmanager
def engravings() -> Iterator[list[Engraving]]:
    """A list that grows by each engraving that is made."""
    engrave, given = engraved_systems.engraved, list[Engraving]()

    def kept(mei: str, width: float, **options: Any) -> object:
        given.append(Engraving(mei, width, options.get("stretch", True)))
        return engrave(mei, width, **options)

    engraved_systems.engraved = kept  # type: ignore[assignment]
    try:
        yield given
    finally:
        engraved_systems.engraved = engrave
