"""Steps that a scale, a meter or the board itself answers."""

from collections.abc import Generator

from mixer.board.frames import Identity
from mixer.board.wiring.aboard import Wires, WiresAboard, wires_aboard
from mixer.link.rehearse.report import Outcome, Prompt, StepVerdict, number_of
from mixer.link.rehearse.script import NO, SEEN, SKIP, YES, Step, wait
from mixer.link.rehearse.stand import Stand
from mixer.link.watch import BoardWatch
from mixer.plant.parts.battery import GENERIC_LITHIUM, interpolate
from mixer.profile.aboard import Aboard, Tunings, aboard
from mixer.profile.schema.bodywork import Chassis
from mixer.profile.schema.physical import Battery

FULL = 0.9
"""A pack with this share of its charge counts as full (common practice, no source)."""
NEAR = 0.03
"""A robot this near to the profile's mass is the one that was computed (common practice, no source)."""
LISTEN_S = 4.0
"""A board says who it is with every 64th frame: this long at 20 ms a frame, and some more."""
FOREVER_S = 1e9
WIRED_S, WIRED_MV = 0.5, 1000
"""A board whose battery wire hangs free reads less than any pack has."""
OVER = 1.03
"""A meter is no further off than this (common practice, no source)."""


def weigh(stand: Stand, chassis: Chassis) -> Step:
    """The robot on a scale against the class limit, and against what was computed."""
    text = "Put the robot on the scale, ready to drive, battery in. How many kg?"
    prompt = Prompt("weight", text, (SKIP,), unit="kg", reason=True)
    kg = number_of((yield from wait(stand, prompt, FOREVER_S)))
    if kg is None:
        return [StepVerdict("weight", Outcome.SKIPPED, "not weighed")]
    limit, computed = chassis.class_limit_kg, chassis.mass_kg
    facts = (("kg", kg), ("limit_kg", limit), ("profile_kg", computed))
    if limit is not None and kg > limit:
        return [StepVerdict("weight", Outcome.FAILED, f"{kg:g} kg; the class allows {limit:g} kg", facts)]
    said = f"{kg:g} kg" + (", no limit in the profile" if limit is None else f" of {limit:g} kg")
    if abs(kg - computed) > NEAR * computed:
        said += (
            f"; the profile has {computed:g} kg: put the true mass there, speeds and stops follow from it"
        )
    return [StepVerdict("weight", Outcome.PASSED, said, facts)]


def measure_battery(stand: Stand, battery: Battery, *, connected: bool) -> Step:
    """Volts at rest against a full pack's: the board's own reading, else a meter's."""
    by_board = connected and (yield from _board_measures(stand))
    if by_board:
        volts: float | None = (stand.battery_mv or 0) / 1000
    else:
        text = "All motors at rest. How many volts at the battery?"
        prompt = Prompt("battery", text, (SKIP,), unit="V", reason=True)
        volts = number_of((yield from wait(stand, prompt, FOREVER_S)))
    if volts is None:
        return [StepVerdict("battery", Outcome.SKIPPED, "not measured")]
    return [_judged(battery, volts, by_board=by_board)]


def _board_measures(stand: Stand) -> Generator[Prompt, str, bool]:
    watching = Prompt("battery", "The board is asked for its volts. Watching.", ())
    seen = yield from wait(stand, watching, WIRED_S, lambda: (stand.battery_mv or 0) >= WIRED_MV)
    return seen == SEEN


def _judged(battery: Battery, volts: float, *, by_board: bool) -> StepVerdict:
    curve = battery.curve or GENERIC_LITHIUM
    full, most = (battery.cells * interpolate(curve, share) for share in (FULL, 1.0))
    how = "read by the board" if by_board else "read by hand"
    facts = (("volts", volts), ("least_volts", round(full, 2)), ("by_board", int(by_board)))
    if volts < full:
        said = f"{volts:.2f} V at rest, {how}; nine tenths full is {full:.2f} V: charge it"
        return StepVerdict("battery", Outcome.FAILED, said, facts)
    if volts > OVER * most:
        said = f"{volts:.2f} V, {how}; {battery.cells} full cells have {most:.2f} V: is it another pack?"
        return StepVerdict("battery", Outcome.FAILED, said, facts)
    return StepVerdict("battery", Outcome.PASSED, f"{volts:.2f} V at rest, {how}: full enough", facts)


def ask_firmware(stand: Stand, tunings: Tunings, *, connected: bool) -> Step:
    """The fingerprints of what runs on the board, from the board; where it cannot say, from a person."""
    fingerprint = tunings.profile.fingerprint(tunings.loadout)
    if connected:
        asking = Prompt("firmware", "The board is asked who it is. Watching.", ())
        if (yield from wait(stand, asking, LISTEN_S, lambda: stand.identity is not None)) == SEEN:
            assert stand.identity is not None
            if stand.identity.fingerprint:
                wires = wires_aboard(tunings, stand.identity)
                return [_of_board(stand.identity, aboard(tunings, stand.identity.fingerprint), wires)]
        if stand.mix is not None:
            said = "a mix runs on the board and it does not say which: press its reset button, then again"
            return [StepVerdict("firmware", Outcome.UNCLEAR, said)]
    text = f"No mix speaks over the link. Does the robot run {fingerprint}, as its mix.h says at the top?"
    answer = yield from wait(stand, Prompt("firmware", text, (YES, NO, SKIP), reason=True), FOREVER_S)
    facts = (("profile", fingerprint), ("board", None))
    if answer == YES:
        said = f"{fingerprint}, as the builder says: the robot itself was not asked"
        return [StepVerdict("firmware", Outcome.PASSED, said, facts)]
    if answer == NO:
        said = f"not flashed with {fingerprint}: export this profile and loadout, and flash it"
        return [StepVerdict("firmware", Outcome.FAILED, said, facts)]
    return [StepVerdict("firmware", Outcome.SKIPPED, "not known")]


def _of_board(board: Identity, known: Aboard, wires: WiresAboard | None) -> StepVerdict:
    facts = (("profile", known.here), ("board", known.fingerprint), ("started", board.started),
             ("wiring", board.wiring))  # fmt: skip
    why = " and ".join(board.reasons())
    wired = f"; {wires.words()}" if wires is not None else ""
    started = f"; it started last because {why}" if why else ""
    if known.remedy():
        said = f"the board, {board.board}: {known.words()}{wired}: {known.remedy()}{started}"
        return StepVerdict("firmware", Outcome.FAILED, said, facts)
    said = f"the board, {board.board}, says {known.fingerprint}: this profile's{wired}"
    if wires is not None and wires.remedy():
        outcome = Outcome.FAILED if wires.wires is Wires.OTHER else Outcome.UNCLEAR
        return StepVerdict("firmware", outcome, f"{said}: {wires.remedy()}{started}", facts)
    said += started
    if board.late:
        late = f"{said}; but a tick has come late since, and the robot stops when one does"
        return StepVerdict("firmware", Outcome.FAILED, late, facts)
    if board.flooded:
        noisy = f"{said}; but noise on a channel's wire has made it drop pulses since"
        return StepVerdict("firmware", Outcome.FAILED, noisy, facts)
    return StepVerdict("firmware", Outcome.PASSED, said, facts)


def compare_mix(watch: BoardWatch) -> Step:
    """Whether all the time every wire on the board was the core's; nothing where no mix runs there."""
    yield from ()
    parity, view = watch.parity, watch.view()
    if not watch.mixes:
        return []
    facts = (("compared", view.compared), ("differing", view.differing), ("passed_over", view.passed_over))

    def verdict(outcome: Outcome, said: str) -> list[StepVerdict]:
        return [StepVerdict("mix against the core", outcome, said, facts)]

    if parity is None or not view.compared:
        return verdict(Outcome.UNCLEAR, view.waits or "no tick came that could be compared")
    if view.differing:
        return verdict(Outcome.FAILED, f"it differs in {view.differing} ticks; first {view.first}")
    return verdict(Outcome.PASSED, f"guard and wires agree in all {view.compared} ticks compared")
