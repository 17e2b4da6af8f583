"""Two faults at once: every two kinds that can be together."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations_with_replacement

from mixer.faults.fault import At, Fault, Flags, Ints, Received, digest

PAIR = "two."
"""How the key of two faults at once begins."""
NOTHING = Fault("none", "Nothing goes wrong.")


@dataclass(frozen=True, slots=True)
class Both(Fault):
    """One fault on top of another, from the same moment on."""

    first: Fault = NOTHING
    second: Fault = NOTHING

    def changes(self, what: str) -> bool:
        """Whether either has one."""
        return self.first.changes(what) or self.second.changes(what)

    def receive(self, received: Received, at: At) -> Received:
        """The wires as both leave them."""
        return self.second.receive(self.first.receive(received, at), at)

    def read(self, contacts: Ints, at: At) -> Ints:
        """The readings as both leave them."""
        return self.second.read(self.first.read(contacts, at), at)

    def resets(self, at: At) -> Flags | None:
        """Where either starts the board anew."""
        return _either(self.first.resets(at), self.second.resets(at))

    def misses(self, at: At) -> Flags | None:
        """Where either keeps the firmware from running."""
        return _either(self.first.misses(at), self.second.misses(at))


def both(one: Fault, other: Fault) -> Both:
    """Seen, and stopped for, where either is; the one that stops the robot acts last on the wires."""
    first, second = (other, one) if one.must_stop > other.must_stop else (one, other)
    words = f"{first.words.rstrip('.')}, and {second.words[0].lower()}{second.words[1:]}"
    return Both(
        f"{PAIR}{first.key}+{second.key}",
        words,
        (second if second.runs_away else first).advice or first.advice or second.advice,
        radio_gone=first.radio_gone or second.radio_gone,
        unseen=(first.unseen or second.unseen) and not (first.must_stop or second.must_stop),
        restarts=first.restarts or second.restarts,
        restart_ticks=first.restart_ticks + second.restart_ticks,
        grace_ticks=first.grace_ticks + second.grace_ticks,
        slows=first.slows * second.slows,
        from_power_up=first.from_power_up or second.from_power_up,
        any_tick=first.any_tick or second.any_tick,
        damage=(*first.damage, *second.damage),
        first=first,
        second=second,
    )


def fault_named(faults: Sequence[Fault], key: str) -> Fault:
    """The fault of that key, or the pair of them. Raises KeyError for a key of neither."""
    known = {fault.key: fault for fault in faults}
    if not key.startswith(PAIR):
        return known[key]
    one, other = key.removeprefix(PAIR).split("+")
    return both(known[one], known[other])


def pairs_of(faults: Sequence[Fault], most: int, seed: int) -> tuple[tuple[Both, ...], int]:
    """One pair of faults for each two kinds that can be together, and how many such kinds there are.

    Which faults of the two kinds, and which kinds where there are more than `most`, the seed says.
    """
    kinds: dict[str, list[Fault]] = {}
    for fault in faults:
        kinds.setdefault(fault.kind, []).append(fault)
    drawn = (_drawn(*pair, seed) for pair in combinations_with_replacement(kinds.values(), 2))
    found = [both(*pair) for pair in drawn if _can_be_together(*pair)]
    drawn_first = sorted((pair.key for pair in found), key=lambda key: digest(f"{seed} {key}"))
    chosen = set(drawn_first[:most])
    return tuple(pair for pair in found if pair.key in chosen), len(found)


def _drawn(ones: Sequence[Fault], others: Sequence[Fault], seed: int) -> tuple[Fault, Fault]:
    number = digest(f"{seed} {ones[0].kind} {others[0].kind}")
    one = ones[number % len(ones)]
    left = [fault for fault in others if fault is not one] or [one]
    return one, left[number // len(ones) % len(left)]


def _can_be_together(one: Fault, other: Fault) -> bool:
    """Both change something, neither hides the other, and what has to come of them can be said.

    A board has one clock and one supply. After all channels are lost no pulse is left to be wrong. A clock
    that is wrong mismeasures every pulse, those that say "lost" too.
    """
    places = {_place(one), _place(other)}
    if one is other or "" in places:
        return False
    if {item.name for item in one.damage} & {item.name for item in other.damage}:
        return False
    if one.kind == other.kind:
        return places <= {"stops", "mechanics"} or hasattr(one, "channel")
    if places == {"power"} or (places == {"radio"} and "all-lost" in (one.kind, other.kind)):
        return False
    mismeasures = [fault for fault in (one, other) if fault.mismeasures]
    told = [
        fault
        for fault in (one, other)
        if fault.must_stop and fault.kind.startswith(("preset", "too-", "just-"))
    ]
    return not (mismeasures and told)


def _place(fault: Fault) -> str:
    """Where a fault acts, by the module it is from; nowhere, if it changes nothing."""
    home = type(fault).__module__.rpartition(".")[2]
    return "mechanics" if fault.damage else "" if home == "fault" else home


def _either(one: Flags | None, other: Flags | None) -> Flags | None:
    if one is None or other is None:
        return other if one is None else one
    found: Flags = one | other
    return found
