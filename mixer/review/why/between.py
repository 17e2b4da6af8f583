"""Robots between two tunings: the first one with some of the second one's values."""

from functools import cached_property

from mixer.errors import StickwrightError
from mixer.plant.from_profile import prepare
from mixer.profile.edit.differences import choices, with_changes
from mixer.profile.profile import Profile, parse_profile
from mixer.profile.read.overlay import Table

Player = tuple[int, ...]
"""Numbers of changes that are made together."""
MOST_APART = 20
"""With more players than this, the keys of one section go together."""
NAMES = ("robot.name", "robot.about")
"""What changes nothing but words."""


class Between:
    """All robots between two, each checked as a profile of its own."""

    def __init__(self, a: Table, b: Table, where: str) -> None:
        """Two robots' tables, loadouts laid over; `where` names them in messages."""
        self._a, self._where = a, where
        self._made: dict[frozenset[int], Profile | StickwrightError] = {}
        self.changes = [change for change in choices(a, b) if change.key not in NAMES]
        self.players: list[Player] = [(number,) for number in range(len(self.changes))]
        """Changes that can be made in any combination, those together that cannot be made apart."""

    def profile(self, taken: frozenset[int]) -> Profile:
        """The robot with these players' changes. Raises ProfileError for one that cannot be."""
        found = self._with(frozenset(number for player in taken for number in self.players[player]))
        if isinstance(found, Profile):
            return found
        raise found

    def join(self, members: frozenset[int]) -> None:
        """Make these players one."""
        together = tuple(number for player in sorted(members) for number in self.players[player])
        rest = [player for number, player in enumerate(self.players) if number not in members]
        self.players = [together, *rest]

    def settle(self) -> tuple[Player, ...]:
        """Join what cannot be made apart; give back who plays no part: it changes nothing first or last."""
        if len(self.players) > MOST_APART:
            self.players = self._by_section()
        while (joined := self._inseparable()) is not None:
            self.join(joined)
        idle = tuple(player for player in self.players if self._is_idle(player))
        self.players = [player for player in self.players if player not in idle]
        return idle

    def _by_section(self) -> list[Player]:
        sections: dict[tuple[str, ...], list[int]] = {}
        for number in (number for player in self.players for number in player):
            sections.setdefault(tuple(self.changes[number].key.split(".")[:2]), []).append(number)
        return [tuple(numbers) for numbers in sections.values()]

    def _inseparable(self) -> frozenset[int] | None:
        """Who makes no robot alone, or without whom there is none, with who mends that; else all."""
        everybody = range(len(self.players))
        stuck = next((number for number in everybody if not self._stands(self.players[number])), None)
        if stuck is None or len(self.players) == 1:
            return None
        for other in everybody:
            if other != stuck and self._stands(self.players[stuck] + self.players[other]):
                return frozenset((stuck, other))
        return frozenset(everybody)

    @cached_property
    def _all(self) -> frozenset[int]:
        return frozenset(range(len(self.changes)))

    def _stands(self, player: Player) -> bool:
        alone, without = self._with(frozenset(player)), self._with(self._all - set(player))
        return isinstance(alone, Profile) and isinstance(without, Profile)

    def _is_idle(self, player: Player) -> bool:
        pairs = ((frozenset[int](), frozenset(player)), (self._all - set(player), self._all))
        return all(self._same(self._with(one), self._with(other)) for one, other in pairs)

    @staticmethod
    def _same(one: Profile | StickwrightError, other: Profile | StickwrightError) -> bool:
        if not (isinstance(one, Profile) and isinstance(other, Profile)):
            return False
        return one.plan() == other.plan() and prepare(one.robot()) == prepare(other.robot())

    def _with(self, numbers: frozenset[int]) -> Profile | StickwrightError:
        if numbers not in self._made:
            tables = with_changes(self._a, [self.changes[number] for number in sorted(numbers)])
            try:
                self._made[numbers] = parse_profile("", self._where, tables)
            except StickwrightError as error:
                self._made[numbers] = error
        return self._made[numbers]
