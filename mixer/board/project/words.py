"""The project's pages: cautions, what to measure, the wiring."""

import os
import shlex
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path

from mixer.board.image.ticktime import TickTime
from mixer.board.kinds.kind import Use
from mixer.board.project.filling import fill
from mixer.board.wiring.fit import Wiring
from mixer.board.wiring.settings import fingerprint_of
from mixer.board.wiring.table import left_out_words, levels_of, rows_of
from mixer.lower.c.plain.names import comment_text
from mixer.profile.profile import Profile
from mixer.profile.read.fitting import fitting_of


def readme_text(
    profile: Profile, loadout: str | None, wiring: Wiring, folder: Path, time: TickTime | None = None
) -> str:
    """README.md of the project in that folder, cautions first."""
    board, plan = wiring.board, profile.plan(loadout)
    measured = any(wire.use == Use.BATTERY for wire in wiring.places)
    named = _named(profile, loadout, folder)
    return fill(
        "README.md",
        robot=comment_text(plan.name),
        board=board.name,
        key=board.key,
        fingerprint=profile.fingerprint(loadout),
        wiring=fingerprint_of(wiring),
        cautions="\n".join(f"- {caution}" for caution in _cautions(wiring)),
        compiler=f"{board.compiler.programs[0]}: {board.compiler.install}",
        makefile=f"{board.key}.mk",
        fuses="".join(f"{line}\n" for line in board.once),
        measures="\n".join(_measures(profile, loadout, wiring, time)),
        baud=str(wiring.baud),
        profile=named,
        tick_ms=str(plan.tick_ms),
        contacts=", the contacts" if wiring.contacts else "",
        battery="the battery's volts" if measured else "no battery volts (no wire for them)",
        time="\n".join(_time(time, named)),
        stop_ms=f"{profile.stop_within_ms(loadout):g}",
    )


def _cautions(wiring: Wiring) -> Iterator[str]:
    """What a builder of this robot must know of its board."""
    yield from wiring.board.cautions
    if any(wire.use == Use.DUTY for wire in wiring.places):
        yield wiring.board.duty_caution


def _time(time: TickTime | None, profile: str) -> Iterator[str]:
    """How long the firmware takes at most, where it is known, and how to find it out."""
    if time is None:
        yield "How long a round of this firmware takes at most is proven from the image, once it is built:"
    else:
        yield f"Proven from the image that these files made here (SHA-256 {time.sha256[:16]}...):"
        yield ""
        for line in time.lines():
            yield f"- {line};"
        yield ""
        yield "What that rests on, and the same of the image that you have built:"
    yield ""
    yield f"    stickwright tick {profile} build/firmware.elf"


def _named(profile: Profile, loadout: str | None, folder: Path) -> str:
    """The profile and what is fitted, as commands that are typed in the project's folder take them."""
    name = "PROFILE"
    if profile.path is not None:
        name = profile.path.name
        with suppress(ValueError):  # on another drive, where no way leads from here
            name = os.path.relpath(profile.path.resolve(), folder.resolve())
    return shlex.join((name, *fitting_of(loadout).options))


def _measures(
    profile: Profile, loadout: str | None, wiring: Wiring, time: TickTime | None
) -> Iterator[str]:
    """Rows of what to measure on the board, with what is expected."""
    plan = profile.plan(loadout)
    pins = {wire.key: row.pin for wire, row in zip(wiring.places, rows_of(wiring), strict=True)}
    if ("tick",) in pins:
        yield f"| {pins['tick',]} | time between two rises | {plan.tick_ms}.00 ms, steady |"
        whole = None if time is None or time.round is None else time.round.ms
        most = f"well below {plan.tick_ms} ms" if whole is None else f"at most {whole:.3f} ms"
        yield f"| {pins['tick',]} | how long it is high | the tick's work, {most} |"
    outputs = [wire for wire in wiring.places if wire.key[0] == "output" and wire.key[-1] == "pin"]
    for wire, output in zip(outputs, plan.outputs, strict=True):
        rests = f"{output.rest} µs ±1 every 20.00 ms" if wire.use == Use.SERVO else "low, not one spike"
        yield f"| {pins[wire.key]} ({wire.carries}) | at rest | {rests} |"
    yield "| every output | reset button held, and while power rises | floats: low by its pull-down |"
    stop = f"{profile.stop_within_ms(loadout):g}"
    last = f"at rest within {stop} ms of the last pulse, a servo pulse one period later"
    yield f"| every output | transmitter off while live | {last} |"
    yield f"| {pins['serial',]} | speed | a bit is {wiring.board.bit_us(wiring.baud):.3g} µs |"
    if ("battery", "pin") in pins:
        below = f"below {wiring.board.volts:g} V"
        yield f"| {pins['battery', 'pin']} | volts, full pack, before it meets the pin | {below} |"


def wiring_page(profile: Profile, loadout: str | None, wiring: Wiring, folder: Path) -> str:
    """WIRING.md of the project in that folder: the same table as `check --board` prints."""
    rows = [
        f"| {row.wire} | {row.carries} | {row.pin} | {row.chip} | {row.level} |" for row in rows_of(wiring)
    ]
    head = [
        "| wire | carries | pin on the board | chip's pin | what belongs there |",
        "|---|---|---|---|---|",
    ]
    notes = [f"- {words}" for words in levels_of(wiring)]
    notes += [f"- {words[0].upper()}{words[1:]}." for words in left_out_words(wiring)]
    notes.append(
        "- Channels are those of the receiver, by its own numbers; contacts are numbered as in the profile."
    )
    chosen = [wire.spelled for wire in wiring.assigned if len(wire.key) > 1]
    if chosen:
        notes.append(
            f"- Stickwright chose the pins of {', '.join(sorted(chosen))}: the profile gives none for this "
            f"board. `stickwright check {_named(profile, loadout, folder)} --board {wiring.board.key}`, "
            "typed in this folder, prints what keeps them."
        )
    return fill(
        "WIRING.md",
        robot=comment_text(profile.plan(loadout).name),
        board=wiring.board.name,
        wiring=fingerprint_of(wiring),
        table="\n".join([*head, *rows]),
        notes="\n".join(notes),
    )
