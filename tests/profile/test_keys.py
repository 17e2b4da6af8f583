"""The keys explained, and the JSON Schema made of them, held against the reader of profiles itself."""

import re
import tomllib
from collections.abc import Iterator
from typing import Any

import pytest
from jsonschema import Draft202012Validator
from pydantic import BaseModel, create_model
from pydantic.fields import FieldInfo

from mixer.examples.shipped import example_names, example_path
from mixer.profile.edit.knobs import knobs_of
from mixer.profile.keys.json_schema import DRAFT, LINE, json_schema
from mixer.profile.keys.listing import Key, find_keys, key_words, keys
from mixer.profile.profile import load_profile
from mixer.profile.schema.base import Section
from mixer.profile.schema.words import ARROW, FIGURES_OF, told
from mixer.profile.starter import starter_profile
from tests.profile.test_wording import CASES
from tests.profile.texts import BASE, spoiled

SCHEMA = json_schema()
EDITOR = Draft202012Validator(SCHEMA)
SAID = {figure for figures in FIGURES_OF.values() for figure in figures}


@pytest.mark.parametrize("key", keys(), ids=lambda key: key.key)
def test_every_key_is_explained(key: Key) -> None:
    """What it does stands there, only known figures are named, and a unit in words is the name's own."""
    assert len(key.what) >= 6
    assert ARROW not in key.what
    assert set(key.moves) <= SAID
    in_words = re.search(r"\bin (ms|µs|mm|m|kg|s|A|ohm|N|Ah)$", key.what)
    if in_words is not None:
        assert in_words[1] in (key.unit, {"Ω": "ohm"}.get(key.unit))


def fields_of(section: type[Section]) -> Iterator[tuple[str, FieldInfo]]:
    """Every field of a section and of those made from it, by ``Section.field``."""
    yield from ((f"{section.__name__}.{name}", field) for name, field in section.model_fields.items())
    for below in section.__subclasses__():
        yield from fields_of(below)


def test_no_field_lacks_its_words() -> None:
    """Every field that any section has is described, and the list holds it; a bare one would be found."""
    fields = dict(fields_of(Section))
    assert [name for name, field in fields.items() if not told(field.description).what] == []
    last = {key.key.rpartition(".")[2] for key in keys()}
    assert {name.rpartition(".")[2] for name in fields} <= last
    bare = create_model("Bare", __base__=BaseModel, field=(int, 1)).model_fields["field"]
    assert not told(bare.description).what


def test_every_figure_is_moved_by_something() -> None:
    """A figure that no key moves would be an empty word."""
    assert {figure for key in keys() for figure in key.moves} == SAID


@pytest.mark.parametrize(
    ("words", "found"),
    [
        ("expo", ["shape.NAME.expo"]),
        ("guard.arm.switch", ["guard.arm.switch"]),
        ("output.NAME.limit", ["output.NAME.limit"]),
        ("softness", ["shape.NAME.expo"]),
        ("pull aside", ["output.NAME.gain"]),
        ("arm position", ["guard.arm.position"]),
        ("xyzzy", []),
    ],
)
def test_keys_are_found_by_name_and_by_what_they_do(words: str, found: list[str]) -> None:
    """A name finds its key, other words the keys whose description or figures have all of them."""
    assert [key.key for key in find_keys(words)] == found
    assert "expo" in key_words()


def test_a_section_brings_its_keys() -> None:
    """Who asks for a section gets what may stand in it."""
    assert [key.key for key in find_keys("flip")] == ["flip"] + [
        f"flip.{key}" for key in ("switch", "position", "contact", "settle_ms", "reverses")
    ]


def test_the_tune_panel_shows_the_same_words() -> None:
    """The help of every value that can be turned is the key's own, figures included."""
    known = {key.key: key for key in keys()}
    for knob in knobs_of(load_profile(example_path("long_crawler")).robot()):
        section, *rest = knob.path
        key = known[".".join([section, *(["NAME", *rest[1:2]] if len(rest) > 1 else rest)])]
        assert knob.help.startswith(key.what)
        assert knob.help.endswith(", ".join(key.moves))


def test_the_document_is_a_schema_of_its_draft() -> None:
    """By the meta-schema of draft 2020-12; and the line that points to it is a comment of TOML."""
    Draft202012Validator.check_schema(SCHEMA)
    assert SCHEMA["$schema"] == DRAFT
    assert tomllib.loads(LINE) == {}


@pytest.mark.parametrize("text", [BASE, starter_profile("x"), *map(str, example_names())])
def test_what_check_accepts_the_schema_accepts(text: str) -> None:
    """Every shipped profile with its loadouts, and the starter."""
    if text in example_names():
        text = example_path(text).read_text(encoding="utf-8")
    assert [error.message for error in EDITOR.iter_errors(tomllib.loads(text))] == []


@pytest.mark.parametrize("case", CASES, ids=lambda case: str(case["new"]).strip())
def test_what_check_refuses_of_one_value_the_schema_refuses(case: dict[str, Any]) -> None:
    """At the same key; but for 2.0, which is a whole number to JSON, and nan, which JSON lacks."""
    text = spoiled(case["old"], case["new"])
    errors = list(EDITOR.iter_errors(tomllib.loads(text)))
    beyond_json = re.search(r"= (2\.0|nan)\b", case["new"]) is not None
    assert bool(errors) != beyond_json


def test_loadouts_may_leave_out_but_not_misspell() -> None:
    """A loadout says any part of a robot again: nothing is needed in it, nothing else may stand there."""
    tables = tomllib.loads(BASE + '[loadout.bare]\nremove = ["output.tray"]\noutput.left.limit = 0.5\n')
    assert list(EDITOR.iter_errors(tables)) == []
    for wrong in ("output.left.limt = 0.5", "output.left.limit = 5", "remove = 3", "robots = 1"):
        tables = tomllib.loads(f"{BASE}[loadout.bare]\n{wrong}\n")
        (error,) = EDITOR.iter_errors(tables)
        assert list(error.absolute_path)[:2] == ["loadout", "bare"]
