"""What the preprocessor leaves of a C text: comments gone, conditions decided, macros put in."""

import re
from collections.abc import Iterable
from dataclasses import dataclass, field

KNOWN_HEADERS = {"<stdbool.h>", "<stdint.h>", "<avr/pgmspace.h>", '"mix.h"'}
MOST_ROUNDS = 16
"""So deep at most a macro stands in a macro."""


class UnequalError(AssertionError):
    """The C is not the graph, or not C that means one thing: where, and why."""


@dataclass
class _Lines:
    """The lines that count so far."""

    defined: set[str]
    macros: dict[str, tuple[list[str] | None, str]] = field(default_factory=dict)
    """Parameters, None where it has none, and body."""
    taken: list[bool] = field(default_factory=list)
    """For each condition that is open, whether what follows it counts."""
    text: list[str] = field(default_factory=list)

    def add(self, line: str) -> None:
        """One line, a directive or not."""
        directive = re.fullmatch(r"\s*#\s*(\w+)\s*(.*)", line)
        word, rest = directive.groups() if directive else ("", line)
        if word in ("if", "ifdef", "ifndef"):
            asked = {"if": rest, "ifdef": f"defined({rest})", "ifndef": f"!defined({rest})"}[word]
            self.taken.append(self._holds(asked))
        elif word == "else":
            self.taken[-1] = not self.taken[-1]
        elif word == "endif":
            self.taken.pop()
        elif all(self.taken):
            self._counts(word, rest)

    def _counts(self, word: str, rest: str) -> None:
        if word == "define":
            name, given, body = re.findall(r"^(\w+)(\([^)]*\))?\s*(.*)$", rest)[0]
            parameters = [each.strip() for each in given[1:-1].split(",")] if given else None
            self.macros[name] = parameters, body.strip()
            self.defined.add(name)
        elif word == "include":
            if rest.strip() not in KNOWN_HEADERS:
                raise UnequalError(f"{rest.strip()} is no header this reader knows")
        elif word:
            raise UnequalError(f"#{word} is nothing this reader knows")
        else:
            self.text.append(rest)

    def _holds(self, asked: str) -> bool:
        """Whether names are defined: one, or the opposite of one, or several joined in one manner."""
        join = "&&" if "&&" in asked else "||"
        parts = [
            re.fullmatch(r"\s*(!?)\s*defined\s*\(?\s*(\w+)\s*\)?\s*", part) for part in asked.split(join)
        ]
        if None in parts:
            raise UnequalError(f"#if {asked} is nothing this reader knows")
        found = [(part[2] in self.defined) != bool(part[1]) for part in parts if part]
        return all(found) if join == "&&" else any(found)


def preprocessed(text: str, defined: Iterable[str]) -> str:
    """The text that a compiler comes to see which defines some names itself. Raises UnequalError."""
    plain = re.sub(r"/\*.*?\*/", " ", text, flags=re.DOTALL).replace("\\\n", " ")
    lines = _Lines(set(defined))
    for line in plain.split("\n"):
        lines.add(line)
    return _expanded("\n".join(lines.text), lines.macros)


def _expanded(text: str, macros: dict[str, tuple[list[str] | None, str]]) -> str:
    """The text with every macro's body in its place; an argument is one without brackets of its own use."""
    for _ in range(MOST_ROUNDS):
        before = text
        for name, (parameters, body) in macros.items():
            text = _replaced(text, name, parameters, body)
        if text == before:
            return text
    raise UnequalError("macros that stand in one another are nothing this reader knows")


def _replaced(text: str, name: str, parameters: list[str] | None, body: str) -> str:
    if parameters is None:
        return re.sub(rf"\b{name}\b", lambda _: body, text)
    parts, at = [], 0
    for found in re.finditer(rf"\b{name}\s*\(", text):
        if found.start() < at:
            continue  # within an argument: the next round's
        given, end = _arguments(text, found.end())
        if len(given) != len(parameters):
            raise UnequalError(f"{name} is not given what it takes")
        put = dict(zip(parameters, given, strict=True))
        words = re.split(r"\b(\w+)\b", body)
        parts += [text[at : found.start()], *(put.get(word, word) for word in words)]
        at = end
    return "".join([*parts, text[at:]])


def _arguments(text: str, start: int) -> tuple[list[str], int]:
    """What stands between the brackets of a call, comma by comma, and where it ends."""
    depth, given = 1, [""]
    for at in range(start, len(text)):
        depth += {"(": 1, ")": -1}.get(text[at], 0)
        if not depth:
            return [each.strip() for each in given], at + 1
        if text[at] == "," and depth == 1:
            given.append("")
        else:
            given[-1] += text[at]
    raise UnequalError("a bracket is never closed")
