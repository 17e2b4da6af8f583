"""A blind comparison under way: what is dealt next, how many runs are still needed, and the end of it."""

from dataclasses import dataclass, field

from mixer.course.run.measures import RunMeasures
from mixer.course.study.compare import Pair, Question, Study, compare, needed_for
from mixer.course.study.deal import order_of


@dataclass
class Blind:
    """Two tunings, dealt by lot. Whoever asks it during the comparison learns no side."""

    name: str
    seed: int
    question: Question
    tunings: tuple[str, str]
    """Fingerprints of A and B as they were when it began."""
    runs: list[RunMeasures] = field(default_factory=list)
    """The finished ones, as they were dealt."""
    repeated: list[str] = field(default_factory=list)
    """Sides of the runs that did not come to their end."""

    @property
    def pair(self) -> int:
        """The pair that is being driven, from 0."""
        return len(self.runs) // 2

    @property
    def dealt(self) -> str:
        """The side to drive next: for the bench, not for the driver."""
        return order_of(self.seed, self.pair)[len(self.runs) % 2]

    @property
    def pairs(self) -> list[Pair]:
        """The whole pairs, A's run first."""
        found = []
        for pair in range(self.pair):
            two = dict(zip(order_of(self.seed, pair), self.runs[2 * pair : 2 * pair + 2], strict=True))
            found.append((two["A"], two["B"]))
        return found

    @property
    def needed(self) -> int | None:
        """Pairs in all, by the sizes of the differences so far; None while it is too early to say."""
        return needed_for(self.pairs, self.question) if self.pairs else None

    @property
    def enough(self) -> bool:
        """Whether as many have been driven as the question takes."""
        return self.needed is not None and self.pair >= self.needed

    def result(self) -> Study | None:
        """What can be told; None without a whole pair."""
        return compare(self.pairs, self.question) if self.pairs else None
