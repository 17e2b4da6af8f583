"""Style names of the drawings, resolved to terminal styles by the inks of a theme."""

from collections.abc import Mapping

from rich.style import Style


class Palette:
    """``ink``, ``ink/ground``, either with a trailing ``!`` for bold; without a ground, the card's."""

    def __init__(self, variables: Mapping[str, str]) -> None:
        self._inks = {
            name.removeprefix("sw-"): value for name, value in variables.items() if name.startswith("sw-")
        }
        self._known: dict[str, Style] = {}

    def style(self, name: str) -> Style:
        """The style of a name. Raises KeyError for an ink no theme has."""
        known = self._known.get(name)
        if known is None:
            ink, _, ground = name.rstrip("!").partition("/")
            known = Style(
                color=self._inks[ink],
                bgcolor=self._inks[ground or "card"],
                bold=name.endswith("!") or ink == "bad",
            )
            self._known[name] = known
        return known
