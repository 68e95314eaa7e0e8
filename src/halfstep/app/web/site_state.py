"""What do all routes share?"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

from halfstep.app.mail import MailServer
from halfstep.app.web.page_words import PageLanguage
from halfstep.app.web.phone_door import PhoneDoor
from halfstep.school.database import School
from halfstep.services.early_hearing import GrowingRecording

BACK_IN_S = 5
"""When a browser or a proxy may ask again where the database is away (RFC 9110, 10.2.3)."""


def nobody_hears(_: GrowingRecording) -> None:
    """Nobody listens to takes while they are recorded."""


@dataclass(frozen=True, slots=True)
class Site:
    """What all routes share.

    Attributes
    ----------
    school : School
    secret : bytes
        Seals the links.
    wake : callable
        Tells the workers that a job was added; they would find it by themselves a little later.
    phones : PhoneDoor
        How other devices come in.
    hear : callable
        Tells whoever listens to takes that a recording has grown.
    languages : mapping of str to PageLanguage
        Those of its pages beside English, by their tags in small letters.
    mail : MailServer or None
        By which links are sent; None where none are.
    """

    school: School
    secret: bytes
    wake: Callable[[], None]
    phones: PhoneDoor
    hear: Callable[[GrowingRecording], None] = nobody_hears
    languages: Mapping[str, PageLanguage] = field(default_factory=dict)
    mail: MailServer | None = None

    @property
    def address(self) -> str:
        """By which other devices come; empty for the one that a visitor came by."""
        return self.phones.standing.address if self.phones.standing else ""
