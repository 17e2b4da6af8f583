"""What `stickwright compare` prints of why two tunings differ."""

from collections.abc import Iterator

from mixer.cli.shared.console import Console
from mixer.review.why.effects import HalfStick
from mixer.review.why.explained import Part, Why

LEAST_SHARE = 0.002
"""An effect smaller than this share of what there is of it is not told."""


def print_why(why: Why, console: Console) -> None:
    """Each key's share, when, at half stick, and what it does to the drive."""
    console.say()
    console.heading(f"why: {why.whole:.2%} of full apart in the mean, shared out ({why.method})")
    for part in why.parts:
        first, *others = part.changes
        console.say(f"{_share(part)}  {first}{_when(part)}")
        for line in (*others, *_details(part, why)):
            console.say(f"         {line}")
    if why.idle:
        console.say(f"without a part in it: {', '.join(why.idle)}")
    told = (
        f"{name} {_with_unit(why.a[name], name, why)} -> {_with_unit(why.b[name], name, why)}"
        for name in why.a
    )
    console.say(f"a -> b: {', '.join(told)}")


def _share(part: Part) -> str:
    error = f" ± {part.error:.0%}" if part.error else ""
    return f"{part.share:6.1%}{error}"


def _when(part: Part) -> str:
    if part.from_s is None or part.until_s is None:
        return ", nothing alone"
    return f", mostly {part.from_s:.1f} to {part.until_s:.1f} s"


def _details(part: Part, why: Why) -> Iterator[str]:
    if part.half is not None:
        yield _half(part.half)
    told = [
        f"{name} {_with_unit(value, name, why, sign='+')}"
        for name, value in part.effects.items()
        if abs(value) > LEAST_SHARE * max(abs(why.a[name]), abs(why.b[name]))
    ]
    if told:
        yield ", ".join(told)


def _half(half: HalfStick) -> str:
    at = f" with {half.position}" if half.position else ""
    change = ""
    if half.before:
        less = half.after / half.before - 1
        change = f", {abs(less):.0%} {'more' if less > 0 else 'less'}"
    return f"half {half.stick}{at}: {half.output} {half.before:.1%} -> {half.after:.1%}{change}"


def _with_unit(value: float, name: str, why: Why, sign: str = "") -> str:
    unit = why.units[name]
    digits = 2 if abs(value) < 10 and unit in ("m", "m/s", "s") else 1 if abs(value) < 100 else 0
    return f"{value:{sign}.{digits}f} {unit}".replace(" °", "°")
