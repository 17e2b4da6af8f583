"""The project's texts: templates with @names@ in them."""

import re
from importlib.resources import files


def fill(template: str, **values: str) -> str:
    """A template with each @name@ replaced."""
    text = (files("mixer.board.project") / "templates" / template).read_text(encoding="utf-8")
    return re.sub(r"@(\w+)@", lambda found: values[found.group(1)], text)
