"""Where each panel stands at a size of the terminal: numbers in, places out, no widget.

wide    the way on top with the floor at its end; hands, response, body and diary below
middle  the way on top; below it two pages
small   four pages, one of them the way

A terminal smaller than `LEAST` shows the upper left part of what stands at that size.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

DRAWERS = ("tune", "faults", "explain", "rehearse")
RIVER_LEAST = 9
"""Rows of the way below a drawer, so that what a fault does to the robot is seen."""
LEAST = (60, 8)
"""Columns and rows below which panels are cut off instead of squeezed."""


@dataclass(frozen=True, slots=True)
class Place:
    """A rectangle of cells."""

    x: int
    y: int
    width: int
    height: int


Places = dict[str, Place]


def size_of(width: int, height: int) -> str:
    """``wide``, ``middle`` or ``small``."""
    if width >= 160 and height >= 42:
        return "wide"
    return "middle" if width >= 110 and height >= 30 else "small"


def pages_of(size: str) -> int:
    """How many pages there are to leaf through."""
    return {"wide": 1, "middle": 2, "small": 4}[size]


def arrange(width: int, height: int, page: int, drawer: str, *, replaying: bool) -> Places:
    """The places of all panels that show; no two overlap and none reaches out."""
    screen = Place(0, 0, width, height)
    size = size_of(width, height)
    width, height = max(width, LEAST[0]), max(height, LEAST[1])
    foot = 1 if size == "small" else 2
    bar = (1 if size == "small" else 2) if replaying else 0
    places = {
        "masthead": Place(0, 0, width, 1),
        "keys": Place(0, height - foot, width, foot),
    }
    if bar:
        places["transport"] = Place(0, height - foot - bar, width, bar)
    room = Place(0, 1, width, height - 1 - foot - bar)
    fill = {"wide": _wide, "middle": _middle, "small": _small}[size]
    return _seen(places | fill(room, page % pages_of(size), drawer), screen)


def _seen(places: Places, screen: Place) -> Places:
    """What of the places lies on the screen; those that do not are left out."""
    cut = {
        name: Place(
            place.x,
            place.y,
            min(place.width, screen.width - place.x),
            min(place.height, screen.height - place.y),
        )
        for name, place in places.items()
    }
    return {name: place for name, place in cut.items() if place.width > 0 and place.height > 0}


def _wide(room: Place, _page: int, drawer: str) -> Places:
    low = min(max(int(room.height * 0.37), 15), 24)
    high = room.height - low - 1
    end = min(max(int(room.width * 0.25), 44), 66)
    river = _river(Place(0, room.y, room.width - end - 1, high), mixed=True)
    side = Place(room.width - end, room.y, end, high)
    below = Place(0, room.y + high + 1, room.width, low)
    return (
        river
        | {drawer or "floor": side}
        | _columns(below, {"hands": 27, "curve": 20, "body": 25, "diary": 28})
    )


def _middle(room: Place, page: int, drawer: str) -> Places:
    low = min(max(int(room.height * 0.46), 13), 20)
    river = _river(Place(0, room.y, room.width, room.height - low), mixed=True)
    below = Place(0, room.y + room.height - low, room.width, low)
    if drawer == "tune":
        shares: Mapping[str, int] = {"tune": 62, "curve": 38}
    elif drawer:
        shares = {"hands": 34, drawer: 66}
    else:
        shares = {"hands": 36, "curve": 28, "diary": 36} if page else {"hands": 36, "floor": 34, "body": 30}
    return river | _columns(below, shares)


def _small(room: Place, page: int, drawer: str) -> Places:
    if drawer == "tune":
        return _columns(room, {"tune": 58, "curve": 42})
    if drawer == "explain" or (drawer and room.height < 2 * RIVER_LEAST):
        return {drawer: room}
    if drawer:
        high = room.height - RIVER_LEAST
        below = Place(0, room.y + high, room.width, RIVER_LEAST)
        return {drawer: Place(0, room.y, room.width, high)} | _river(below, mixed=False)
    if page == 0:
        return _river(room, mixed=False)
    pages: Sequence[Mapping[str, int]] = (
        {"hands": 50, "floor": 50},
        {"curve": 50, "body": 50},
        {"diary": 100},
    )
    return _columns(room, pages[page - 1])


def _river(room: Place, *, mixed: bool) -> Places:
    """The stages of the way, edge to edge, so that the flow is not interrupted."""
    if not mixed:
        widths = {"receiver": 27, "weave": 8 + (room.width - 80) // 3, "gate": 11, "motors": 0}
    else:
        spare = room.width - 110
        widths = {
            "receiver": 32 + spare * 24 // 100,
            "weave": 11 + spare * 22 // 100,
            "mixed": 20 + spare * 30 // 100,
            "gate": 13 + min(spare // 12, 4),
            "motors": 0,
        }
    widths["motors"] = room.width - sum(widths.values())
    places: Places = {}
    x = room.x
    for name, width in widths.items():
        places[name] = Place(x, room.y, width, room.height)
        x += width
    return places


def _columns(room: Place, shares: Mapping[str, int]) -> Places:
    """Panels side by side with a column of air between them."""
    air = len(shares) - 1
    whole = sum(shares.values())
    places: Places = {}
    x = room.x
    for number, (name, part) in enumerate(shares.items()):
        last = number == air
        width = room.x + room.width - x if last else (room.width - air) * part // whole
        places[name] = Place(x, room.y, width, room.height)
        x += width + 1
    return places
