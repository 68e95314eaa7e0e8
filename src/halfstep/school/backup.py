"""A copy of all that is kept, made while it is worked with; given back; and compared with it.

A copy is a folder: the database as it stood at one moment, the files that belong to it, and two
lists to compare with: `SHA256SUMS` has a digest of each file, as ``sha256sum --check`` reads it,
and `tables.json` one of each table's rows. The database is taken first: what is added meanwhile is
then in no row and does no harm, while a file that a row names is there.
"""

from __future__ import annotations

import hashlib
import json
import re
import shutil
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from sqlalchemy import Column, Connection, MetaData, Table, create_engine, select

from halfstep.data.documents import JsonForm, json_text, read_document
from halfstep.errors import BriefError, ReadError, StoreError
from halfstep.files import DRAFT, file_digest, flush, whole_folder
from halfstep.school.copied_tables import copy_rows, is_empty
from halfstep.school.data_folder import DATABASE_FILE, EARLY_FOLDER, database_address
from halfstep.school.database import School
from halfstep.school.growing_files import LOCKS_FOLDER
from halfstep.school.schema_version import NEWEST
from halfstep.school.tables import metadata, sent_takes, sheets, takes
from halfstep.school.worker_mark import WORKERS_FOLDER

FORM = JsonForm("halfstep-backup", "a backup")
TABLES_FILE = "tables.json"
SUMS_FILE = "SHA256SUMS"
KEPT = 7
"""So many copies stand beside each other where nothing else is said."""
_PASSING = frozenset({WORKERS_FOLDER, LOCKS_FOLDER, EARLY_FOLDER})
"""What is made anew, or means something to running processes alone."""
_NAME = re.compile(r"\d{4}-\d\d-\d\dT\d\d-\d\d-\d\dZ")
_SCHEMAS = "alembic_version"
"""Which schema it is: another one after a copy of an earlier release is given back."""
_TRIES = 3
_SUM = re.compile(r"([0-9a-f]{64})  (.+)")

Told = Callable[[float, str], None]
"""Is told the share that is done, and what is done just now."""


@dataclass(frozen=True, slots=True)
class Backup:
    """A copy.

    Attributes
    ----------
    folder : Path
    rows, files : int
        How many are in it.
    removed : tuple of Path
        Older copies that went.
    """

    folder: Path
    rows: int
    files: int
    removed: tuple[Path, ...] = ()


def back_up(school: School, place: Path, told: Told, *, keep: int = KEPT) -> Backup:
    """A new copy in a folder of copies, named by the time; the oldest go.

    Parameters
    ----------
    school : School
        May be worked with meanwhile.
    place : Path
        The folder of copies; not inside the school's own.
    told : callable
    keep : int
        How many copies stand then: what was erased goes with the last one that has it.

    Raises
    ------
    BriefError
        When there is no writing there.
    StoreError
        When something that is kept is gone from the disk.
    """
    if keep < 1:
        raise BriefError(f"`keep` {keep}: keep one copy or more")
    if place.resolve().is_relative_to(school.folder.resolve()):
        raise BriefError(f"`folder` {place}: give a place outside of {school.folder}")
    folder = place / f"{datetime.now(UTC):%Y-%m-%dT%H-%M-%SZ}"
    if folder.exists():
        raise BriefError(f"`folder`: {folder} is there already; wait a second")
    with whole_folder(folder) as work:
        _copy_whole(school, work, told)
        sums = _sums(work, told)
        rows = _write_lists(work, sums)
    folder.chmod(0o700)
    flush(folder, place)
    return Backup(folder, rows, len(sums), _remove_older(place, keep))


def _copy_whole(school: School, work: Path, told: Told) -> None:
    """Copy until each row has its files: meanwhile somebody may be erased.

    Raises
    ------
    StoreError
        When the same file is missing time and again.
    """
    missed = Counter[str]()
    while True:
        _copy(school, work, told)
        gone = sorted(_named_files(work / DATABASE_FILE) - _names_below(work))
        missed.update(gone)
        if not gone:
            return
        if missed[gone[0]] == _TRIES:
            raise StoreError(
                f"{school.folder}: {gone[0]} is kept and is not there; is the disk well?"
            )


def _copy(school: School, work: Path, told: Told) -> None:
    """The database, and then the files."""
    for path in work.iterdir():
        shutil.rmtree(path) if path.is_dir() else path.unlink()
    school.snapshot(work / DATABASE_FILE)
    paths = list(_files_below(school.folder))
    for number, path in enumerate(paths):
        told(number / len(paths) / 2, "copying")
        target = work / path.relative_to(school.folder)
        target.parent.mkdir(parents=True, exist_ok=True)
        try:
            shutil.copy2(path, target)
        except FileNotFoundError:
            continue  # it went meanwhile; whether a row names it is asked afterwards


def _files_below(folder: Path) -> Iterator[Path]:
    """What is copied as it is: all but the database, drafts, and what passes."""
    for path in sorted(folder.rglob("*")):
        parts = path.relative_to(folder).parts
        if path.is_symlink() or not path.is_file() or parts[0] in _PASSING:
            continue
        if not parts[0].startswith(DATABASE_FILE) and not any(p.startswith(DRAFT) for p in parts):
            yield path


def _named_files(database: Path) -> set[str]:
    """Files and folders of files that rows name, below the school's folder."""
    with _opened(database) as connection:
        recordings = connection.scalars(select(takes.c.file).union(select(sent_takes.c.file))).all()
        folders = connection.scalars(
            select(sent_takes.c.folder).union(select(sheets.c.folder))
        ).all()
    return {f"takes/{name}" for name in recordings if name} | {name for name in folders if name}


def _names_below(folder: Path) -> set[str]:
    return {path.relative_to(folder).as_posix() for path in folder.rglob("*")}


def _remove_older(place: Path, keep: int) -> tuple[Path, ...]:
    copies = sorted(path for path in place.iterdir() if _NAME.fullmatch(path.name))
    removed = tuple(path for path in copies[:-keep] if (path / TABLES_FILE).is_file())
    for path in removed:
        shutil.rmtree(path)
    return removed


# The two lists


def _sums(folder: Path, told: Told) -> dict[str, str]:
    """The digest of each file, by its name below the folder."""
    lists = {folder / TABLES_FILE, folder / SUMS_FILE}
    paths = [path for path in sorted(folder.rglob("*")) if path.is_file() and path not in lists]
    return _digests(folder, paths, told)


def _digests(folder: Path, paths: Sequence[Path], told: Told) -> dict[str, str]:
    sums = {}
    for number, path in enumerate(paths):
        told(0.5 + number / len(paths) / 2, "comparing")
        sums[path.relative_to(folder).as_posix()] = file_digest(path)
    return sums


def _write_lists(folder: Path, sums: dict[str, str]) -> int:
    """Write both; how many rows there are."""
    found = _tables_of(folder / DATABASE_FILE)
    tables = {name: {"rows": count, "sha256": digest} for name, (count, digest) in found.items()}
    made_at = datetime.now(UTC).isoformat(timespec="seconds")
    head = {**FORM.head, "made_at": made_at, "schema": NEWEST}
    folder.joinpath(TABLES_FILE).write_text(json_text({**head, "tables": tables}), "utf-8")
    lines = "".join(f"{digest}  {name}\n" for name, digest in sums.items())
    folder.joinpath(SUMS_FILE).write_text(lines, "utf-8")
    return sum(count for count, _ in found.values())


def _opened(database: Path) -> Connection:
    return create_engine(f"sqlite:///file:{database}?mode=ro&uri=true").connect()


def _tables_of(database: Path) -> dict[str, tuple[int, str]]:
    """How many rows each table has, and a digest of them in their order."""
    with _opened(database) as connection:
        return {table.name: _rows_of(connection, table) for table in _tables_in(connection)}


def _tables_in(connection: Connection) -> list[Table]:
    """The tables as they are there: a copy may be of an earlier release."""
    found = MetaData()
    found.reflect(connection)
    return [table for table in found.sorted_tables if table.name != _SCHEMAS]


def _rows_of(connection: Connection, table: Table) -> tuple[int, str]:
    """The rows of a table, in the columns that are named."""
    digest, count = hashlib.sha256(), 0
    query = select(table).order_by(*table.primary_key.columns)
    for row in connection.execute(query):
        digest.update(json.dumps(list(map(str, row)), ensure_ascii=True).encode() + b"\n")
        count += 1
    return count, digest.hexdigest()


# Comparing, and giving back


def faults_of_backup(folder: Path, told: Told) -> tuple[str, ...]:
    """What of a copy is not as it was made, a line each; empty where it is whole.

    Raises
    ------
    ReadError
        When it is no copy.
    """
    tables, noted = _noted_tables(folder), _noted_sums(folder)
    faults = [*_differing(noted, _sums(folder, told), "is missing", "was not there", "is damaged")]
    if DATABASE_FILE not in {line.partition(" ")[0] for line in faults}:
        now = _tables_of(folder / DATABASE_FILE)
        rows = {name: f"{count} {digest}" for name, (count, digest) in now.items()}
        faults += _differing(tables, rows, "has no rows now", "is new", "has other rows")
    return tuple(faults)


def _noted_sums(folder: Path) -> dict[str, str]:
    """How each file was.

    Raises
    ------
    ReadError
    """
    try:
        return dict(map(_noted_sum, folder.joinpath(SUMS_FILE).read_text("utf-8").splitlines()))
    except OSError as error:
        raise ReadError(f"{folder}: cannot read {SUMS_FILE}: {error.strerror}") from None


def _noted_sum(line: str) -> tuple[str, str]:
    found = _SUM.fullmatch(line)
    if found is None:
        raise ReadError(f"{SUMS_FILE}: this is no line of digests: {line[:60]}")
    return found[2], found[1]


def _noted_tables(folder: Path) -> dict[str, str]:
    """How the rows of each table were.

    Raises
    ------
    ReadError
    """
    file = folder / TABLES_FILE
    if not file.is_file():
        raise ReadError(f"{folder} is no backup: it has no {TABLES_FILE}")
    try:
        tables = read_document(file, FORM)["tables"]
        return {name: f"{one['rows']} {one['sha256']}" for name, one in tables.items()}
    except (KeyError, TypeError, AttributeError):
        raise ReadError(f"{file}: its `tables` are not as a backup has them") from None


def differences(folder: Path, school: School, told: Told) -> tuple[str, ...]:
    """What of a school is not as in a whole copy, row by row and file by file; a line each."""
    before = _noted_sums(folder)
    after = _digests(school.folder, list(_files_below(school.folder)), told)
    before.pop(DATABASE_FILE, None)
    with _opened(folder / DATABASE_FILE) as copy, school.reading() as connection:
        changed = tuple(
            f"{table.name} has other rows"
            for table in _tables_in(copy)
            if _rows_of(copy, _as_kept(table)) != _rows_of(connection, _as_kept(table))
        )
    return (*_differing(before, after, "is not there", "is new", "is another"), *changed)


def _as_kept(table: Table) -> Table:
    """A table in the types that the program reads it in: a server keeps times otherwise."""
    kept = metadata.tables.get(table.name, table).columns
    columns = [
        Column(one.name, kept.get(one.name, one).type, primary_key=one.primary_key)
        for one in table.columns
    ]
    return Table(table.name, MetaData(), *columns)


def _differing(
    before: dict[str, str], after: dict[str, str], gone: str, new: str, other: str
) -> Iterator[str]:
    for name in sorted(before.keys() | after.keys()):
        if name not in after:
            yield f"{name} {gone}"
        elif name not in before:
            yield f"{name} {new}"
        elif before[name] != after[name]:
            yield f"{name} {other}"


def restore(folder: Path, data: Path, told: Told) -> tuple[str, ...]:
    """Give back what a copy has, into an empty folder; what of it is then not the same.

    Raises
    ------
    ReadError
        When the copy is none, or is damaged.
    BriefError
        When the folder has something in it, or there is no writing.
    """
    if data.exists() and (not data.is_dir() or any(data.iterdir())):
        raise BriefError(f"`data` {data} is not empty; give the name of a new folder")
    faults = faults_of_backup(folder, told)
    if faults:
        more = f", and {len(faults) - 1} more" if len(faults) > 1 else ""
        raise ReadError(f"{folder} is not whole: {faults[0]}{more}")
    address = database_address()
    if address:
        with School(data, address) as school, school.reading() as connection:
            if not is_empty(connection):
                raise BriefError(f"{school.name} has something in it; give an empty database")
    with whole_folder(data) as work:
        shutil.copytree(folder, work, dirs_exist_ok=True)
        for name in (TABLES_FILE, SUMS_FILE):
            work.joinpath(name).unlink()
    data.chmod(0o700)
    if address:
        _move_rows(data, address)
    with School(data, address) as school:
        return differences(folder, school, told)


def _move_rows(data: Path, address: str) -> None:
    """Bring the rows of a folder's own database to a server."""
    with (
        School(data, "") as file,
        School(data, address) as server,
        file.reading() as source,
        server.writing() as target,
    ):
        copy_rows(source, target)
    data.joinpath(DATABASE_FILE).unlink()
