"""Rewriting rules for comparisons and flags; see `simplify`."""

from mixer.lower.graph.nodes import Op
from mixer.lower.graph.rewriting import Args, Making


def constant_last(build: Making, op: Op, args: Args, place: str) -> int | None:
    """Put the operands of a commuting operation in one order: by age, a constant last."""
    a, b = args
    order = tuple(sorted(args, key=lambda index: (build.value(index) is not None, index)))
    return build.make(op, order, 0, place) if order != (a, b) else None


def equal(build: Making, args: Args, _: int, place: str) -> int | None:
    """A value equals itself; a choice of two numbers is its flag."""
    if args[0] == args[1]:
        return build.truth(True)
    simpler = _of_two(build, Op.EQUAL, args, place)
    return constant_last(build, Op.EQUAL, args, place) if simpler is None else simpler


def not_equal(build: Making, args: Args, _: int, place: str) -> int | None:
    """The opposite of EQUAL, so that there is one of both."""
    return build.make(Op.NOT, (build.make(Op.EQUAL, args, 0, place),), 0, place)


def less(build: Making, args: Args, _: int, place: str) -> int | None:
    """Nothing is less than itself."""
    return build.truth(False) if args[0] == args[1] else _of_two(build, Op.LESS, args, place)


def less_equal(build: Making, args: Args, _: int, place: str) -> int | None:
    """A value is at most itself."""
    return build.truth(True) if args[0] == args[1] else _of_two(build, Op.LESS_EQUAL, args, place)


def _of_two(build: Making, op: Op, args: Args, place: str) -> int | None:
    """A comparison of `select(flag, number, number)` with a number is the flag, its opposite or known."""
    for index, side in enumerate(args):
        choice = build.nodes[side]
        if choice.op is not Op.SELECT or build.value(args[1 - index]) is None:
            continue
        if any(build.value(arm) is None for arm in choice.args[1:]):
            continue
        pairs = [(arm, args[1]) if index == 0 else (args[0], arm) for arm in choice.args[1:]]
        if_true, if_false = (build.value(build.make(op, pair, 0, place)) for pair in pairs)
        if if_true == if_false:
            return build.truth(if_true == 1)
        return choice.args[0] if if_true else build.make(Op.NOT, (choice.args[0],), 0, place)
    return None


def either_or_both(build: Making, op: Op, args: Args, place: str) -> int | None:
    """AND and OR: one operand decides, or does not matter."""
    a, b = args
    for one, other in ((a, b), (b, a)):
        known = build.value(one)
        if known is not None:
            return one if (known == 0) == (op is Op.AND) else other
        if build.nodes[one].op is Op.NOT and build.nodes[one].args[0] == other:
            return build.truth(op is Op.OR)
    return a if a == b else constant_last(build, op, args, place)


def opposite(build: Making, args: Args, _: int, place: str) -> int | None:
    """Twice is nothing; of an inequality it is the other one, exchanged."""
    node = build.nodes[args[0]]
    if node.op is Op.NOT:
        return node.args[0]
    if node.op is Op.LESS:
        return build.make(Op.LESS_EQUAL, node.args[::-1], 0, place)
    return build.make(Op.LESS, node.args[::-1], 0, place) if node.op is Op.LESS_EQUAL else None
