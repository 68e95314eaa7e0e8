"""Where in a text does an error stand? Whoever knows the place adds it on the way out."""

from __future__ import annotations

from typing import TYPE_CHECKING

from halfstep.errors import ReadError

if TYPE_CHECKING:
    from types import TracebackType


class ErrorPlace:
    """A block whose `ReadError` gets this source, line and column.

    Parameters
    ----------
    source : str, optional
    line : int, optional
        1-based.
    column : int
        1-based; a column that the error already has counts from here.

    Examples
    --------
    >>> with ErrorPlace("tune.abc", line=2, column=5):
    ...     raise ReadError("no note", column=3)
    Traceback (most recent call last):
    halfstep.errors.ReadError: tune.abc, line 2, column 7: no note
    """

    __slots__ = ("_column", "_line", "_source")

    def __init__(self, source: str = "", *, line: int | None = None, column: int = 1) -> None:
        self._source = source
        self._line = line
        self._column = column

    def __enter__(self) -> None:
        """Nothing to prepare."""

    def __exit__(
        self,
        _kind: type[BaseException] | None,
        error: BaseException | None,
        _trace: TracebackType | None,
    ) -> None:
        if isinstance(error, ReadError):
            column = self._column + (error.column or 1) - 1
            source, line = self._source or error.source, self._line or error.line
            raise ReadError(error.message, source=source, line=line, column=column) from None
