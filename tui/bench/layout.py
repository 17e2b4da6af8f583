"""Where each panel stands at a size of the terminal: numbers in, places out, no widget.

wide    the way on top, as high as it needs; hands, response and body below; floor and diary at the right
middle  the way on top; below it two pages
small   four pages, one of them the way

What can be broken stands beside the robot on the floor at every size, so that it is seen to stop.

A terminal smaller than `LEAST` shows the upper left part of what stands at that size.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

DRAWERS = ("tune", "feel", "faults", "explain", "rehearse", "board", "course")
RIVER_LEAST = 9
"""Rows of the way below a drawer, so that what a fault does to the robot is seen."""
ROOMIEST = 4
"""Most rows from one output of the way to the next."""
STACKED = 30
"""Rows below the way from which on response and body stand one above the other."""
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


class About(NamedTuple):
    """What decides about the places besides the size."""

    page: int
    drawer: str
    floor: bool
    rows: int


def size_of(width: int, height: int) -> str:
    """``wide``, ``middle`` or ``small``."""
    if width >= 160 and height >= 42:
        return "wide"
    return "middle" if width >= 110 and height >= 30 else "small"


def pages_of(size: str) -> int:
    """How many pages there are to leaf through."""
    return {"wide": 1, "middle": 2, "small": 4}[size]


def arrange(
    width: int, height: int, page: int, drawer: str, *, replaying: bool, floor: bool = True, rows: int = 6
) -> Places:
    """The places of all panels that show; no two overlap and none reaches out.

    `floor` says whether there is a robot to be seen on it, `rows` how many rows the way has to show.
    """
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
    if drawer == "course":  # nothing else of the robot: what it is tuned to may be a secret
        shares = {"course": 100} if size == "small" else {"hands": 24, "course": 76}
        return _seen(places | _columns(room, shares), screen)
    fill = {"wide": _wide, "middle": _middle, "small": _small}[size]
    return _seen(places | fill(room, About(page % pages_of(size), drawer, floor, rows)), screen)


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


def _wide(room: Place, about: About) -> Places:
    end = min(max(room.width * 28 // 100, 44), 90)
    low = max(room.height * 35 // 100, 16)
    high = min(max(about.rows * ROOMIEST + 3, 15), room.height - low)
    news = max(room.height // 4, 8)
    left, right = room.width - end - 1, Place(room.width - end, room.y, end, room.height - news - 1)
    places = _river(Place(0, room.y, left, high), mixed=True)
    last = Place(right.x, right.y + right.height + 1, end, news)
    right, places["diary"] = (right, last) if about.floor or about.drawer else (last, right)
    below = Place(0, room.y + high + 1, left, room.height - high - 1)
    if about.drawer == "faults":
        return places | {"floor": right} | _columns(below, {"hands": 42, "faults": 58})
    places[about.drawer or "floor"] = right
    if below.height < STACKED:
        return places | _columns(below, {"hands": 42, "curve": 28, "body": 30})
    return places | _stacked(below)


def _stacked(room: Place) -> Places:
    """Hands, and beside them response and body one above the other."""
    places = _columns(room, {"hands": 50, "curve": 50})
    curve, body = places["curve"], max(room.height * 2 // 5, 12)
    top = curve.height - body
    places["curve"] = Place(curve.x, curve.y, curve.width, top - 1)
    return places | {"body": Place(curve.x, curve.y + top, curve.width, body)}


def _middle(room: Place, about: About) -> Places:
    page, drawer, floor, _ = about
    low = min(max(int(room.height * 0.46), 13), 20)
    river = _river(Place(0, room.y, room.width, room.height - low), mixed=True)
    below = Place(0, room.y + room.height - low, room.width, low)
    if drawer == "tune":
        shares: Mapping[str, int] = {"tune": 62, "curve": 38}
    elif drawer == "faults" and floor:
        shares = {"faults": 60, "floor": 40}
    elif drawer:
        shares = {"hands": 34, drawer: 66}
    else:
        shares = {"hands": 36, "curve": 28, "diary": 36} if page else {"hands": 36, "floor": 34, "body": 30}
    return river | _columns(below, shares)


def _small(room: Place, about: About) -> Places:
    page, drawer, floor, _ = about
    if drawer == "tune":
        return _columns(room, {"tune": 58, "curve": 42})
    if drawer == "explain" or (drawer and room.height < 2 * RIVER_LEAST):
        return {drawer: room}
    if drawer:
        high = room.height - RIVER_LEAST
        below = Place(0, room.y + high, room.width, RIVER_LEAST)
        above = Place(0, room.y, room.width, high)
        beside = {"faults": 58, "floor": 42} if drawer == "faults" and floor else {drawer: 100}
        return _columns(above, beside) | _river(below, mixed=False)
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
        widths = {"receiver": 27, "weave": 8 + (room.width - 80) // 3, "gate": 13, "motors": 0}
    else:
        spare = room.width - 110
        widths = {
            "receiver": 32 + spare * 24 // 100,
            "weave": 11 + spare * 22 // 100,
            "mixed": 18 + spare * 32 // 100,
            "gate": 13 + min(spare // 3, 4),
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
