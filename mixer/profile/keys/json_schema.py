"""The schema as a JSON Schema document (draft 2020-12), by which editors of TOML complete and warn.

It says what each value alone may be; what values may not be together, `stickwright check` says. JSON has
one kind of number, so a document of it cannot refuse 2.0 where a whole number is meant; `check` does.
"""

import json
from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any

from mixer.profile.profile import MOST_LOADOUTS
from mixer.profile.read.fitting import OF_RECEIVER, OPERATOR_KEYS, RECEIVER_KEYS
from mixer.profile.schema.root import Robot

DRAFT = "https://json-schema.org/draft/2020-12/schema"
MARK = "made by stickwright"
"""In the document's `$comment`: what holds it may be written again."""
FILE = "stickwright.schema.json"
LINE = f"#:schema ./{FILE}\n\n"
"""The comment at the top of a profile by which editors find the document beside it, and the blank line that
some of them want after it. Documented at https://taplo.tamasfe.dev/configuration/directives.html and
https://tombi-toml.github.io/tombi/docs/comment-directive."""

Node = dict[str, Any]
_DEFINITION = "#/$defs/"
_IN_LOADOUT = "InLoadout"
_WHOLE = ("Part", "Arm", "Screw")
"""What a loadout replaces whole, so that nothing of it may be missing there either."""


def schema_text() -> str:
    """The document as it is written to a file."""
    return json.dumps(json_schema(), indent=1, ensure_ascii=False) + "\n"


def json_schema() -> Node:
    """The document: the robot, and loadouts that say any part of it again."""
    robot: Node = _changed(Robot.model_json_schema(), _tidy)
    definitions = robot.pop("$defs")
    partly = {
        f"{name}{_IN_LOADOUT}": _partly(node) for name, node in definitions.items() if name not in _WHOLE
    }
    loadout = _partly(robot)
    robot["properties"]["loadout"] = _loadout(loadout)
    robot["properties"]["operator"] = {
        "description": "[operator.NAME]: who drives; how the robot answers the hands, with any loadout: "
        + _may_say(OPERATOR_KEYS),
        "type": "object",
        "propertyNames": {"maxLength": 40, "pattern": "^[a-z][a-z0-9_]*$"},
        "additionalProperties": _only(OPERATOR_KEYS, robot, partly),
    }
    spare = _only(RECEIVER_KEYS, robot, partly)
    spare["properties"] |= {key: definitions["Receiver"]["properties"][key] for key in OF_RECEIVER}
    definitions["Receiver"]["additionalProperties"] = spare | {
        "description": "[receiver.NAME]: a spare receiver, with its own channels, ends and marks: "
        f"{', '.join(OF_RECEIVER)}; {_may_say(RECEIVER_KEYS)}"
    }
    return {"$schema": DRAFT, "$comment": MARK, **robot, "$defs": definitions | partly}


def _loadout(loadout: Node) -> Node:
    """The table of loadouts, each a robot of which nothing is required."""
    loadout["properties"]["remove"] = {
        "description": 'things of the robot that this loadout lacks, such as ["output.tray", "part.tray"]',
        "type": "array",
        "items": {"type": "string"},
    }
    return {
        "description": "[loadout.NAME]: the same robot with other parts; it says only what differs, and "
        'remove = ["output.tray", "part.tray"] what it lacks',
        "type": "object",
        "propertyNames": {"maxLength": 40, "pattern": "^[a-z][a-z0-9_]*$"},
        "maxProperties": MOST_LOADOUTS,
        "additionalProperties": loadout,
    }


def _may_say(keys: Mapping[str, Sequence[str]]) -> str:
    return "; ".join(f"of each {section} {', '.join(own)}" for section, own in keys.items())


def _only(keys: Mapping[str, Sequence[str]], robot: Node, partly: Mapping[str, Node]) -> Node:
    """An overlay's tables that may say so much of the robot's things."""
    sections: Node = {}
    for section, own in keys.items():
        name = next(iter(_references(robot["properties"][section])))
        known = partly[f"{name}{_IN_LOADOUT}"]["properties"]
        sections[section] = {
            "type": "object",
            "additionalProperties": {
                "type": "object",
                "properties": {key: known[key] for key in own},
                "additionalProperties": False,
            },
        }
    return {"type": "object", "properties": sections, "additionalProperties": False}


def _references(node: Any) -> Iterator[str]:  # noqa: ANN401
    """Names of the definitions that a node speaks of."""
    if isinstance(node, Mapping):
        if "$ref" in node:
            yield str(node["$ref"]).removeprefix(_DEFINITION)
        for inner in node.values():
            yield from _references(inner)


def _changed(node: Any, change: Callable[[Node], Node]) -> Any:  # noqa: ANN401 - JSON is of any type
    """A document with every object in it changed, the inner ones first."""
    if isinstance(node, Mapping):
        return change({key: _changed(value, change) for key, value in node.items()})
    return [_changed(item, change) for item in node] if isinstance(node, list) else node


def _tidy(node: Node) -> Node:
    """Without what TOML has no word for: null, titles made from names, defaults that are whole tables."""
    if isinstance(node.get("title"), str):
        del node["title"]
    if node.get("default", 0) is None or isinstance(node.get("default"), Mapping):
        del node["default"]
    choices = node.get("anyOf")
    if isinstance(choices, list) and {"type": "null"} in choices:
        held = [choice for choice in choices if choice != {"type": "null"}]
        only: Node = held[0] if len(held) == 1 else {"anyOf": held}
        node = only | {key: value for key, value in node.items() if key != "anyOf"}
    if len(node.get("allOf", ())) == 1:  # so pydantic before 2.9 puts words beside a reference
        node = node["allOf"][0] | {key: value for key, value in node.items() if key != "allOf"}
    if "patternProperties" in node:
        node["additionalProperties"] = False
    return node


def _partly(node: Node) -> Node:
    """The same with nothing required, down to what a loadout replaces whole."""

    def loosened(inner: Node) -> Node:
        name = str(inner.get("$ref", "")).removeprefix(_DEFINITION)
        if name and name not in _WHOLE:
            inner = inner | {"$ref": f"{_DEFINITION}{name}{_IN_LOADOUT}"}
        return {key: value for key, value in inner.items() if key not in ("required", "default")}

    loose: Node = _changed(node, loosened)
    return loose
