"""Where is what is kept? In one folder: said, named by the environment, or the user's own."""

from __future__ import annotations

import os
from pathlib import Path

from halfstep.errors import BriefError

VARIABLE = "HALFSTEP_DATA"
"""Names the folder where none is said."""
DATABASE_VARIABLE = "HALFSTEP_DATABASE"
"""Names a database on a server, where several machines share one school."""
DATABASE_FILE = "school.sqlite3"
FILES_VARIABLE = "HALFSTEP_FILES"
"""Names a store of objects for the files, where the machines share no folder."""
TAKES_FOLDER = "takes"
RECORDINGS_FOLDER = "recordings"
"""Where recordings grow that come in pieces."""
EARLY_FOLDER = "early"
"""Where that lies which is heard of recordings while they grow."""
LINES_FOLDER = "lines"
"""Where lines lie that were handed out, as files."""
MADE_FOLDER = "made"
"""Where that lies which jobs have made."""


def data_folder(typed: str | None = None) -> Path:
    """The folder that is meant; it need not be there.

    Raises
    ------
    BriefError
        When its place is taken by a file, or may not be looked at.
    """
    named = typed or os.environ.get(VARIABLE)
    folder = Path(named).expanduser() if named else _users_own()
    try:
        is_file = folder.exists() and not folder.is_dir()
    except OSError as error:
        raise BriefError(f"`data` {folder}: {error.strerror}") from None
    if is_file:
        raise BriefError(f"`data` {folder} is a file; give the name of a folder")
    return folder


def database_address() -> str:
    """Where the database is: an address of a server, or empty for a file in the data folder."""
    return os.environ.get(DATABASE_VARIABLE, "")


def files_address() -> str:
    """Where files are: an address of a store of objects, or empty for the data folder."""
    return os.environ.get(FILES_VARIABLE, "")


def _users_own() -> Path:
    from platformdirs import user_data_path

    return user_data_path("halfstep", appauthor=False)
