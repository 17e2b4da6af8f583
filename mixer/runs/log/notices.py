"""What a reader put right by itself: told once a kind, with a count, never a thousand lines."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Notice:
    """One kind of oddity in one place of one file, and how often it was met."""

    where: str
    """File and line of the first one: ``drive.csv:14``."""
    key: str
    """The column concerned; empty when the whole file is meant."""
    said: str
    """What was found first, and what was made of it."""
    count: int

    def __str__(self) -> str:
        key = f"{self.key}: " if self.key else ""
        more = f" ({self.count} times)" if self.count > 1 else ""
        return f"{self.where}: {key}{self.said}{more}"


class Notices:
    """Counts oddities by kind and column; keeps the wording of the first of each."""

    def __init__(self, file: str) -> None:
        self.file = file
        self._found: dict[tuple[str, str], Notice] = {}

    def add(self, kind: str, said: str, *, key: str = "", line: int = 0) -> None:
        """Note one more of `kind` in column `key`."""
        before = self._found.get((kind, key))
        if before is None:
            where = f"{self.file}:{line}" if line else self.file
            self._found[kind, key] = Notice(where, key, said, 1)
        else:
            self._found[kind, key] = Notice(before.where, key, before.said, before.count + 1)

    def listed(self) -> tuple[Notice, ...]:
        """All so far, in the order in which each kind was first met."""
        return tuple(self._found.values())
