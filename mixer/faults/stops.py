"""Faults of end-stop switches and their wires."""

from dataclasses import dataclass

import numpy as np

from mixer.faults.fault import At, Fault, Ints, chance

OPEN_CIRCUIT = 1
"""What an input with a pull-up reads when its wire is off (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class ContactStuck(Fault):
    """A switch that always reads the same."""

    contact: int = 0
    level: int = 0

    def read(self, contacts: Ints, at: At) -> Ints:
        """That level."""
        stuck = contacts.copy()
        stuck[self.contact] = np.where(at.on, self.level, stuck[self.contact])
        return stuck


@dataclass(frozen=True, slots=True)
class ContactBounces(Fault):
    """A switch whose contact chatters."""

    contact: int = 0
    share: float = 0.3

    def read(self, contacts: Ints, at: At) -> Ints:
        """In this share of the ticks the opposite of what is true."""
        bounced = contacts.copy()
        hit = at.on & chance(at.seed, at.tick, 384 + self.contact, self.share)
        bounced[self.contact] = np.where(hit, 1 - bounced[self.contact], bounced[self.contact])
        return bounced


@dataclass(frozen=True, slots=True)
class ContactsSwapped(Fault):
    """The two switches of an actuator on each other's wire."""

    first: int = 0
    second: int = 1

    def read(self, contacts: Ints, at: At) -> Ints:
        """Each reads what the other should."""
        swapped = contacts.copy()
        swapped[self.first] = np.where(at.on, contacts[self.second], contacts[self.first])
        swapped[self.second] = np.where(at.on, contacts[self.first], contacts[self.second])
        return swapped


@dataclass(frozen=True, slots=True)
class BothClosed(Fault):
    """Both switches of an actuator closed at once, for a while."""

    first: int = 0
    second: int = 1
    levels: tuple[int, int] = (1, 1)
    """What each reads when closed."""
    ticks: int = 2**30

    def read(self, contacts: Ints, at: At) -> Ints:
        """Both closed until `ticks` after the onset."""
        closed = contacts.copy()
        now = at.on & (at.since < self.ticks)
        for contact, level in ((self.first, self.levels[0]), (self.second, self.levels[1])):
            closed[contact] = np.where(now, level, closed[contact])
        return closed
