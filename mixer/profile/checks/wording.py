"""What pydantic found, in words a person can act on.

The remedy is made from the field itself: its bounds, its type and its description.
"""

import types
from collections.abc import Iterator, Mapping
from typing import Any, Union, get_args, get_origin

from pydantic import BaseModel
from pydantic.fields import FieldInfo
from pydantic_core import ErrorDetails

from mixer.errors import nearest
from mixer.profile.read.complaint import Complaint
from mixer.profile.read.lines import KeyPath
from mixer.profile.schema.words import told

_SAID = {
    "bool_type": "must be true or false, not {value}",
    "int_type": "must be a whole number, not {value}",
    "int_from_float": "must be a whole number, not {value}",
    "float_type": "must be a number, not {value}",
    "finite_number": "must be a finite number, not {value}",
    "string_type": "must be a text in quotes, not {value}",
    "tuple_type": "must be a list in [brackets], not {value}",
    "model_type": "must be a table, not {value}",
    "dict_type": "must be a table, not {value}",
    "greater_than_equal": "{value} is below {ge:g}",
    "greater_than": "{value} is not above {gt:g}",
    "less_than_equal": "{value} is above {le:g}",
    "less_than": "{value} is not below {lt:g}",
    "literal_error": "{value} is not one of {expected}",
    "too_short": "has too few entries ({actual_length})",
    "too_long": "has too many entries ({actual_length})",
    "string_pattern_mismatch": "{value} cannot be a name",
    "string_too_long": "{value} is longer than {max_length} characters",
}

_BEYOND_REASON = 1e9
"""An upper bound that only keeps numbers finite says nothing to a person."""


def complaint_of(error: ErrorDetails, root: type[BaseModel]) -> Complaint:
    """One pydantic error as a complaint."""
    path = tuple(error["loc"])
    if path and path[-1] == "[key]":
        remedy = "begin with a small letter, then small letters, digits and _, 40 at most"
        return Complaint(path[:-1], f"{path[-2]!r} cannot be a name", remedy)
    annotation, field = _found(root, path)
    if error["type"] == "extra_forbidden":
        return _unknown_key(path, _found(root, path[:-1])[0])
    description = told(field.description).what if field else ""
    if error["type"] == "missing":
        return Complaint(path, "is missing", f"add it: {description or 'this table'}")
    wanted = ": ".join(part for part in (_range(field, annotation), description) if part)
    return Complaint(path, _said(error), wanted or _expected(error))


def shown(value: object) -> str:
    """A value as the file writes it, cut to a readable length."""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, Mapping):
        return "a table"
    text = repr(value) if not isinstance(value, int) or abs(value) < 10**18 else "a huge number"
    return text if len(text) <= 60 else text[:57] + "..."


def _said(error: ErrorDetails) -> str:
    value, kind = shown(error["input"]), error["type"]
    context = {"value": value} | error.get("ctx", {})
    if kind in _SAID:
        return _SAID[kind].format(**context)
    return f"{error['msg'][0].lower()}{error['msg'][1:]}, not {value}"


def _expected(error: ErrorDetails) -> str:
    if error["type"] == "string_pattern_mismatch":
        return "begin with a small letter, then small letters, digits and _"
    return "see the example robots for how it is written"


def _unknown_key(path: KeyPath, around: object) -> Complaint:
    model = _model(around)
    known = list(model.model_fields) if model else []
    known += ["loadout", "operator"] if len(path) == 1 else []
    key = str(path[-1])
    near = nearest(key, known)
    start = f"did you mean {near!r}? " if near else ""
    what = "key" if len(path) > 1 else "section"
    return Complaint(path, f"unknown {what} {key!r}", f"{start}known here: {', '.join(known)}")


def _found(root: type[BaseModel], path: KeyPath) -> tuple[object, FieldInfo | None]:
    """The annotation at a path, and the nearest field around it."""
    annotation: object = root
    field: FieldInfo | None = None
    for key in path:
        model = _model(annotation)
        if model is not None:
            if key not in model.model_fields:
                return None, field
            field = model.model_fields[str(key)]
            annotation = field.annotation
        else:
            annotation = next(_inner(annotation), None)
    return annotation, field


def _model(annotation: object) -> type[BaseModel] | None:
    for candidate in (annotation, *_arguments(annotation)):
        if isinstance(candidate, type) and issubclass(candidate, BaseModel):
            return candidate
    return None


def _inner(annotation: object) -> Iterator[object]:
    """What a dictionary or a tuple holds."""
    for candidate in (annotation, *_arguments(annotation)):
        if get_origin(candidate) is dict:
            yield get_args(candidate)[1]
        elif get_origin(candidate) is tuple:
            yield get_args(candidate)[0]


def _arguments(annotation: object) -> tuple[object, ...]:
    return get_args(annotation) if get_origin(annotation) in {Union, types.UnionType} else ()


def _range(field: FieldInfo | None, annotation: object) -> str:
    bounds: dict[str, Any] = {}
    metadata = list(field.metadata) if field else []
    for candidate in (annotation, *_arguments(annotation)):
        metadata += list(getattr(candidate, "__metadata__", ()))
    for entry in metadata:
        for inner in (entry, *getattr(entry, "metadata", ())):
            for bound in ("ge", "gt", "le", "lt"):
                value = getattr(inner, bound, None)
                if value is not None:
                    bounds.setdefault(bound, value)
    words = [
        f"{phrase} {bounds[bound]:g}"
        for bound, phrase in (("ge", "from"), ("gt", "above"), ("le", "up to"), ("lt", "below"))
        if bound in bounds and bounds[bound] < _BEYOND_REASON
    ]
    return " ".join(words)
