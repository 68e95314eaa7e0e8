"""How are our values described to other programs? As JSON schema, derived from their fields.

The dialect is that of OpenAPI 3.1, which is JSON schema 2020-12.
"""

from __future__ import annotations

import inspect
import re
from dataclasses import MISSING, Field, fields
from types import NoneType, UnionType
from typing import Any, Union, get_args, get_origin, get_type_hints

Schema = dict[str, Any]

_PLAIN: dict[object, str] = {str: "string", bool: "boolean", int: "integer", float: "number"}
ANY_OBJECT: Schema = {"type": "object"}
ERROR: Schema = {
    "type": "object",
    "properties": {"error": {"type": "string", "description": "One line: what, where, what else."}},
    "required": ["error"],
    "additionalProperties": False,
}


def listed(name: str, item: Schema) -> Schema:
    """An object whose one field is a list."""
    return {
        "type": "object",
        "properties": {name: {"type": "array", "items": item}},
        "required": [name],
    }


def object_schema(kind: type, *, without: frozenset[str] = frozenset()) -> Schema:
    """A frozen class as the object that its fields are sent in.

    A field that can be a file of this machine besides is sent as text alone.

    Parameters
    ----------
    kind : type
        A dataclass.
    without : set of str
        Fields that cannot be sent.
    """
    hints = get_type_hints(kind, localns=_local_names())
    words = field_words(kind)
    shown = [field for field in fields(kind) if field.name not in without]
    return {
        "type": "object",
        "properties": {
            field.name: _field_schema(field, hints[field.name], words.get(field.name, ""))
            for field in shown
        },
        "required": [field.name for field in shown if field.default is MISSING],
        "additionalProperties": False,
    }


def _local_names() -> dict[str, type]:
    """What the hints of requests name that is loaded no sooner than needed."""
    from pathlib import Path

    from halfstep.progression.sheet import LeadSheet

    return {"Path": Path, "LeadSheet": LeadSheet}


def _field_schema(field: Field[Any], hint: Any, words: str) -> Schema:
    made = _type_schema(hint)
    if field.default is not MISSING and isinstance(field.default, str | int | float | None):
        made["default"] = field.default
    return made | ({"description": words} if words else {})


def _type_schema(hint: Any) -> Schema:
    """The schema of a type, of what it has that can be sent."""
    if get_origin(hint) in {Union, UnionType}:
        kinds = [_type_schema(kind) for kind in get_args(hint) if _can_be_sent(kind)]
        names = [kind["type"] for kind in kinds]
        return kinds[0] if len(kinds) == 1 else {"type": names}
    if get_origin(hint) is tuple:
        return {"type": "array", "items": _type_schema(get_args(hint)[0])}
    return {"type": "null" if hint is NoneType else _PLAIN[hint]}


def _can_be_sent(kind: Any) -> bool:
    return kind is NoneType or kind in _PLAIN


def sendable_fields(kind: type) -> frozenset[str]:
    """The fields of a class that can be sent as plain data."""
    hints = get_type_hints(kind, localns=_local_names())
    return frozenset(field.name for field in fields(kind) if _is_plain(hints[field.name]))


def _is_plain(hint: Any) -> bool:
    if get_origin(hint) is tuple:
        return _is_plain(get_args(hint)[0])
    if get_origin(hint) in {Union, UnionType}:
        return any(_can_be_sent(kind) and kind is not NoneType for kind in get_args(hint))
    return hint in _PLAIN


def field_words(kind: type) -> dict[str, str]:
    """What the docstring of a class says of each of its fields."""
    doc = inspect.getdoc(kind) or ""
    _, _, attributes = doc.partition("Attributes\n----------\n")
    pieces = re.split(r"^(\w+(?:, \w+)*) : .*\n?", attributes, flags=re.MULTILINE)[1:]
    pairs = zip(pieces[::2], pieces[1::2], strict=True)
    return {name: " ".join(words.split()) for names, words in pairs for name in names.split(", ")}
