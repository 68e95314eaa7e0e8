"""What does a page say of what is allowed for a player, and of how long things are kept?"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

from halfstep.app.rights import Visitor, VisitorRole
from halfstep.app.tasks.consent_tasks import givers
from halfstep.app.web.page import date_words, time_words
from halfstep.app.web.page_words import gettext, noted
from halfstep.school.accounts import has_guardian
from halfstep.school.consents import Consent, ConsentState, Giver, Purpose, consent_state
from halfstep.school.database import SchoolConnection
from halfstep.school.leavers import left_at
from halfstep.school.retention import KeptTerms, kept_terms
from halfstep.school.sent_takes import SentTake
from halfstep.school.settings import CONSENT_AGE, value_of

_TITLES = {
    Purpose.RECORDING: noted("Recording"),
    Purpose.HEARING: noted("Heard by the teacher"),
    Purpose.SHARING: noted("Heard by the class"),
    Purpose.KEEPING: noted("Kept longer"),
}
_MEANINGS = {
    Purpose.RECORDING: noted(
        "Takes may be recorded and sent here. Taken back, nothing is recorded or taken in any "
        "more, and what was not sent yet goes at once; what was sent stays until its day."
    ),
    Purpose.HEARING: noted(
        "Who teaches may open takes, hear them and read what was heard in them. Taken back, they "
        "are not there for who teaches; the player’s own feedback goes on."
    ),
    Purpose.SHARING: noted(
        "A teacher may have the player’s class hear a take, by the nickname, on the pages of its "
        "players. Taken back, no class hears any; allowed anew, a teacher chooses anew."
    ),
    Purpose.KEEPING: noted("A recording stays %(longer)s in place of %(usual)s."),
}
_SAID_AS = {
    Giver.GUARDIAN: noted("by a guardian"),
    Giver.PLAYER: noted("by the player"),
    Giver.PAPER: noted("by a guardian, on paper"),
    Giver.TEACHER: noted("by a teacher"),
}


@dataclass(frozen=True, slots=True)
class ConsentRow:
    """One purpose, as a page shows it.

    Attributes
    ----------
    purpose : Purpose
    title, meaning : str
    is_allowed : bool
    said : str
        Who said it and when, or why it stands so.
    button : str
        What is done at a press; empty where nothing can be done by who looks.
    """

    purpose: Purpose
    title: str
    meaning: str
    is_allowed: bool
    said: str
    button: str


@dataclass(frozen=True, slots=True)
class ConsentView:
    """What is allowed for a player, as who looks sees it.

    Attributes
    ----------
    student : int
    is_under_age : bool
    age : int
        From which one decides alone.
    rows : tuple of ConsentRow
    who : str
        Who decides, in a sentence.
    terms : KeptTerms
    leaves_on : date or None
        When all that is kept goes, for who is in no class any more.
    """

    student: int
    is_under_age: bool
    age: int
    rows: tuple[ConsentRow, ...]
    who: str
    terms: KeptTerms
    leaves_on: date | None

    def allows(self, purpose: str) -> bool:
        """Whether it may be done."""
        return next(row.is_allowed for row in self.rows if row.purpose == purpose)

    def recording_end(self, take: SentTake) -> date:
        """When the recording of a take goes."""
        is_longer = self.allows(Purpose.KEEPING)
        return self.terms.recording_end(take.sent_at, is_longer=is_longer).astimezone().date()

    def feedback_end(self, take: SentTake) -> date:
        """When what was heard in a take goes."""
        return self.terms.feedback_end(take.sent_at).astimezone().date()


def consent_view(connection: SchoolConnection, student: int, visitor: Visitor) -> ConsentView:
    """What is allowed for a player, as a visitor sees it."""
    state, terms = consent_state(connection, student), kept_terms(connection)
    known = has_guardian(connection, student)
    may_give = giver_of(visitor, is_given=True) in givers(state, has_guardian_here=known)
    left = left_at(connection, student)
    age = value_of(connection, CONSENT_AGE)
    return ConsentView(
        student,
        state.is_under_age,
        age,
        tuple(_rows(state, terms, may_give=may_give)),
        _who(state, age, has_guardian_here=known),
        terms,
        None if left is None else (left + terms.leaver).astimezone().date(),
    )


def giver_of(visitor: Visitor, *, is_given: bool) -> Giver:
    """As whom somebody speaks: a teacher's yes is a guardian's, on paper."""
    if visitor.is_teacher:
        return Giver.PAPER if is_given else Giver.TEACHER
    return Giver.GUARDIAN if visitor.role is VisitorRole.GUARDIAN else Giver.PLAYER


def _rows(state: ConsentState, terms: KeptTerms, *, may_give: bool) -> Iterator[ConsentRow]:
    stays = {"longer": time_words(terms.longer), "usual": time_words(terms.recording)}
    for purpose, title in _TITLES.items():
        is_allowed = state.allows(purpose)
        give = gettext("Allow") if may_give else ""
        yield ConsentRow(
            purpose,
            gettext(title),
            gettext(_MEANINGS[purpose], **stays),
            is_allowed,
            _said(state.last(purpose), is_allowed=is_allowed),
            gettext("Take back") if is_allowed else give,
        )


def _said(last: Consent | None, *, is_allowed: bool) -> str:
    if last is None:
        return gettext("by recording and sending") if is_allowed else gettext("not asked yet")
    if last.is_given and not is_allowed:
        return gettext("by the player, which does not count under age")
    by, day = gettext(_SAID_AS[last.giver]), date_words(last.at)
    if is_allowed:
        return gettext("%(by)s on %(day)s", by=by, day=day)
    return gettext("taken back %(by)s on %(day)s", by=by, day=day)


def _who(state: ConsentState, age: int, *, has_guardian_here: bool) -> str:
    if not state.is_under_age:
        return gettext("The player decides alone.")
    if has_guardian_here:
        return gettext("Under %(age)s: a guardian decides.", age=age)
    return gettext(
        "Under %(age)s: a guardian decides, on paper, which the teacher writes down here.", age=age
    )
