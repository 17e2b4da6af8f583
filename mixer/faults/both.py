"""Two faults at once."""

from dataclasses import dataclass

from mixer.faults.fault import Air, At, Fault, Flags, Ints

NOTHING = Fault("none", "Nothing goes wrong.")


@dataclass(frozen=True, slots=True)
class Both(Fault):
    """One fault on top of another, from the same moment on."""

    first: Fault = NOTHING
    second: Fault = NOTHING

    def changes(self, what: str) -> bool:
        """Whether either has one."""
        return self.first.changes(what) or self.second.changes(what)

    def receive(self, air: Air, at: At) -> Air:
        """The wires as both leave them."""
        return self.second.receive(self.first.receive(air, at), at)

    def read(self, contacts: Ints, at: At) -> Ints:
        """The readings as both leave them."""
        return self.second.read(self.first.read(contacts, at), at)

    def resets(self, at: At) -> Flags | None:
        """Where either starts the board anew."""
        return _either(self.first.resets(at), self.second.resets(at))

    def misses(self, at: At) -> Flags | None:
        """Where either keeps the firmware from running."""
        return _either(self.first.misses(at), self.second.misses(at))


def both(first: Fault, second: Fault) -> Both:
    """Seen, and stopped for, where either of them is."""
    words = f"{first.words.rstrip('.')}, and {second.words[0].lower()}{second.words[1:]}"
    return Both(
        f"two.{first.key}+{second.key}",
        words,
        (second if second.runs_away else first).advice or first.advice or second.advice,
        radio_gone=first.radio_gone or second.radio_gone,
        unseen=(first.unseen or second.unseen) and not (first.must_stop or second.must_stop),
        grace_ticks=first.grace_ticks + second.grace_ticks,
        any_tick=first.any_tick or second.any_tick,
        damage=(*first.damage, *second.damage),
        first=first,
        second=second,
    )


def _either(one: Flags | None, other: Flags | None) -> Flags | None:
    if one is None or other is None:
        return other if one is None else one
    found: Flags = one | other
    return found
