"""The page of a review: one file that asks for nothing else, light or dark as the reader's screen is."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from mixer.markup import Markup, element, foreign, join
from mixer.profile.journal import Entry
from mixer.review.drive import DriveReview
from mixer.review.pictures import MOST_LINES, histograms, timeline
from mixer.review.side import side_by_side
from mixer.review.style import STYLE
from mixer.runs.play.stretch import Floats

MARK = "<title>Review: "
"""Stands near the beginning of every file that this command wrote."""


@dataclass(frozen=True, slots=True)
class Shown:
    """A review, and what its picture over time is drawn from."""

    review: DriveReview
    points: dict[str, Floats]


def draw_page(drives: Sequence[Shown]) -> str:
    """The whole page. Raises MissingToolError without matplotlib. Equal drives give equal bytes."""
    reviews = [shown.review for shown in drives]
    robots = dict.fromkeys(review.drive.robot for review in reviews)
    title = ", ".join(robots)
    head = element(
        "head",
        element("meta", charset="utf-8"),
        element("title", f"Review: {title}"),
        element("meta", name="viewport", content="width=device-width, initial-scale=1"),
        element("meta", name="color-scheme", content="light dark"),
        element("style", Markup(STYLE)),
    )
    body = element(
        "main",
        element("h1", foreign(title)),
        _legend(reviews),
        element("h2", "In numbers" if len(reviews) == 1 else "Side by side"),
        _numbers(reviews),
        element("h2", "Where the sticks were"),
        histograms(reviews),
        _sticks(reviews),
        *(_drive(number, shown) for number, shown in enumerate(drives, start=1)),
        *(_journal(profile, journal) for profile, journal in journals(reviews).items()),
    )
    return f"<!DOCTYPE html>\n{element('html', head, element('body', body), lang='en').text}\n"


def journals(reviews: Sequence[DriveReview]) -> dict[str, tuple[Entry, ...]]:
    """Each profile's journal once, of those that have one."""
    return {review.profile: review.journal for review in reviews if review.journal}


def _journal(profile: str, journal: Sequence[Entry]) -> Markup:
    rows = ((entry.at, entry.fingerprint, entry.what) for entry in journal)
    table = _table(("when", "tuning", "what was changed"), rows)
    return element("section", element("h2", "Journal of ", foreign(profile)), table)


def _legend(reviews: Sequence[DriveReview]) -> Markup:
    rows = []
    for number, review in enumerate(reviews, start=1):
        same = review.recorded_with in (None, review.fingerprint)
        recorded = (
            "" if same else f"recorded with {review.recorded_with}, played through {review.fingerprint}"
        )
        key = element("span", str(number), class_=f"key line-{(number - 1) % MOST_LINES + 1}")
        rows.append((key, review.log, review.drive.robot, recorded or review.fingerprint))
    return _table(("", "log", "robot", "fingerprint"), rows)


def _numbers(reviews: Sequence[DriveReview]) -> Markup:
    heads = [str(number) for number in range(1, len(reviews) + 1)] if len(reviews) > 1 else [""]
    return _table(("", *heads), ((row.what, *row.answers) for row in side_by_side(reviews)))


def _sticks(reviews: Sequence[DriveReview]) -> Markup:
    rows = (
        (
            str(number),
            stick.name,
            use.position,
            f"{use.live_s:.1f} s",
            f"{use.share:.0%}",
            f"{use.mean_size:.0%}",
        )
        for number, review in enumerate(reviews, start=1)
        for stick in review.sticks
        for use in stick.shapes
    )
    return _table(("drive", "stick", "shape at", "time", "share", "mean size in it"), rows)


def _drive(number: int, shown: Shown) -> Markup:
    review = shown.review
    return element(
        "section",
        element("h2", f"Drive {number}: ", foreign(review.log)),
        timeline(review, shown.points),
        *_parts(review),
    )


def _parts(review: DriveReview) -> Iterator[Markup]:
    if review.moments:
        yield element("h3", "Worth seeing")
        yield element("ol", *(_moment(*words) for words in _moments(review)), class_="moments")
    yield from _not_live(review)
    yield element("h3", "Channels")
    yield _channels(review)
    if review.gaps:
        yield _table(
            ("gap at", "channels", "for", ""),
            (
                (
                    f"{g.at_s:.3f} s",
                    ", ".join(g.channels),
                    f"{g.lasted_s * 1000:.0f} ms",
                    "stopped it" if g.lost else "bridged",
                )
                for g in review.gaps
            ),
        )
    yield element("h3", "Outputs")
    yield _outputs(review)
    name, _, said = review.physics_words.partition(": ")
    yield element("p", f"{name.capitalize()}: ", foreign(said), ".")


def _not_live(review: DriveReview) -> Iterator[Markup]:
    yield element("h3", "Not live")
    waited = "; ".join(f"{what} {seconds:.1f} s" for what, seconds in review.waited_s.items() if seconds)
    live = f"Live {review.live_s:.1f} s of {review.drive.duration_s:.1f} s."
    yield element("p", live, f" Else it waited for: {waited}." if waited else "")
    yield _table(
        ("at", "for", "", "why"),
        (
            (f"{pause.at_s:.3f} s", f"{pause.lasted_s:.2f} s", pause.began, pause.why)
            for pause in review.pauses
        ),
    )


def _moments(review: DriveReview) -> Iterator[tuple[str, str, str]]:
    for moment in review.moments:
        yield f"{moment.at_s:.3f} s: {moment.words}", moment.bench, moment.explain


def _moment(words: str, *commands: str) -> Markup:
    return element("li", foreign(words), *(element("code", foreign(command)) for command in commands))


def _channels(review: DriveReview) -> Markup:
    rows = (
        (
            channel.name,
            *map(str, (channel.pulses, channel.bad_pulses, channel.missing_pulses)),
            f"{channel.longest_gap_ms:.0f} ms",
            f"{channel.lost_s:.2f} s",
        )
        for channel in review.drive.channels
    )
    return _table(("channel", "good pulses", "bad", "missing", "longest gap", "lost"), rows)


def _outputs(review: DriveReview) -> Markup:
    physics = {} if review.physics is None else {output.name: output for output in review.physics.outputs}
    rows = []
    for o in review.drive.outputs:
        row = [
            o.name,
            f"{o.saturated_s:.2f} s",
            f"{o.at_limit_s:.2f} s",
            f"{o.slew_limited_s:.2f} s",
            str(o.reversals),
        ]
        below = physics.get(o.name)
        if below is not None:
            hot = "-" if below.hottest_c is None else f"{below.hottest_c:.0f} °C"
            row += [f"{below.peak_a:.1f} A", f"{below.stalled_s:.2f} s", hot]
        elif physics:
            row += ["-"] * 3
        rows.append(tuple(row))
    heads = ("output", "saturated", "at limit", "slewing", "reversals")
    return _table(heads + (("most current", "near stall", "winding") if physics else ()), rows)


def _table(heads: Sequence[str], rows: Iterable[Sequence[Markup | str]]) -> Markup:
    """Text from files is isolated; the box around it scrolls where a screen is narrow."""
    top = element("thead", element("tr", *(element("th", head, scope="col") for head in heads)))
    lines = (
        element("tr", *(element("td", cell if isinstance(cell, Markup) else foreign(cell)) for cell in row))
        for row in rows
    )
    return element("div", element("table", top, element("tbody", join(*lines))), class_="wide")
