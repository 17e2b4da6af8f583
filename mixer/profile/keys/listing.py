"""Every key of a profile with its unit, range, default and what it does, read off the schema's document."""

import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any

from mixer.profile.keys.json_schema import json_schema
from mixer.profile.schema.words import told, unit_of

Node = dict[str, Any]
NEEDED = "needed"
"""In place of a default: the key has to be there."""
NAMED = "NAME"
"""Stands in a key for the name that the profile gives a thing."""
_KINDS = {"number": "number", "integer": "whole number", "boolean": "true or false", "string": "text"}
_BOUNDS = {"minimum": "from", "exclusiveMinimum": "above", "maximum": "to", "exclusiveMaximum": "below"}
_BEYOND_REASON = 1e9
"""A bound that only keeps numbers finite says nothing to a person."""


@dataclass(frozen=True, slots=True)
class Key:
    """One key, or a table of them."""

    key: str
    """Dotted: ``shape.NAME.expo``; ``part`` for what is written as [[part]]."""
    kind: str
    """``number``, ``whole number``, ``true or false``, ``text``, ``list``, ``table``, or two of them."""
    unit: str
    range: str
    """What it may be: bounds or choices in words; empty for anything of its kind."""
    default: str
    """As the file would write it; `NEEDED` where there is none, empty where that means "not there"."""
    what: str
    moves: tuple[str, ...]
    """The figures that it moves."""


@cache
def keys() -> Sequence[Key]:
    """All of them, in the order of the schema."""
    document = json_schema()
    return tuple(_keys(document, document["$defs"], ""))


def find_keys(words: str) -> Sequence[Key]:
    """Keys that are meant by some words: those of that very name, else those that speak of all of them."""
    wanted = words.lower().replace(".", " ").split()
    exact = [
        key for key in keys() if _names(key)[-len(wanted) :] == wanted or key.key.lower() == words.lower()
    ]
    inside = [
        key for key in keys() if exact and key.key.startswith(tuple(f"{each.key}." for each in exact))
    ]
    if exact:
        return [key for key in keys() if key in exact or key in inside]
    return [key for key in keys() if all(word in _text(key) for word in wanted)]


def key_words() -> Sequence[str]:
    """Every name that a key or a section has, for who misspelt one."""
    return sorted({name for key in keys() for name in _names(key)})


def _names(key: Key) -> list[str]:
    return [name for name in key.key.split(".") if name != NAMED]


def _text(key: Key) -> str:
    return f"{key.key} {key.what} {' '.join(key.moves)}".lower()


def _keys(node: Node, definitions: Node, start: str) -> Iterator[Key]:
    for name, inner in _resolved(node, definitions).get("properties", {}).items():
        needed = name in _resolved(node, definitions).get("required", ())
        yield _key(f"{start}{name}", inner, definitions, needed=needed)
        yield from _keys(inner, definitions, f"{start}{name}.")
        for things in _things(_resolved(inner, definitions)):
            if "$ref" in things:
                each = f"{start}{name}." if inner.get("type") == "array" else f"{start}{name}.{NAMED}."
                yield from _keys(things, definitions, each)
            elif f"{name}.{NAMED}" in things.get("description", ""):
                yield _key(f"{start}{name}.{NAMED}", things, definitions, needed=False)


def _things(node: Node) -> Iterator[Node]:
    """What a table holds under names, or a list one after the other."""
    yield from node.get("patternProperties", {}).values()
    yield from (
        held for held in (node.get("additionalProperties"), node.get("items")) if isinstance(held, dict)
    )


def _resolved(node: Node, definitions: Node) -> Node:
    definition: Node = definitions[node["$ref"].rpartition("/")[2]] if "$ref" in node else {}
    return definition | node


def _key(key: str, node: Node, definitions: Node, *, needed: bool) -> Key:
    whole = _resolved(node, definitions)
    said = told(whole.get("description"))
    choices = [each for each in whole.get("anyOf", [whole]) if isinstance(each, dict)]
    kinds = dict.fromkeys(_kind(_resolved(each, definitions)) for each in choices)
    ranges = dict.fromkeys(word for each in choices if (word := _range(each)))
    default = NEEDED if needed else json.dumps(whole["default"]) if "default" in whole else ""
    unit, may_be = unit_of(key.rpartition(".")[2]), " or ".join(ranges)
    return Key(key, " or ".join(kinds), unit, may_be, default, said.what, said.moves)


def _kind(node: Node) -> str:
    kind = str(node.get("type", "object"))
    if kind == "array":
        return "tables" if "$ref" in node.get("items", {}) else "list"
    return _KINDS.get(kind, "table")


def _range(node: Node) -> str:
    if "enum" in node:
        return ", ".join(map(str, node["enum"]))
    if "const" in node:
        return str(node["const"])
    bounds = [
        f"{word} {node[bound]:g}"
        for bound, word in _BOUNDS.items()
        if bound in node and abs(node[bound]) < _BEYOND_REASON
    ]
    return " ".join(bounds)
