"""The second reader's terms: what is made of numbers comes to what arithmetic says, within its bounds."""

from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from mixer.lower.graph.nodes import Range
from tests.lower.reader import meaning
from tests.lower.reader.alike import Alike
from tests.lower.reader.c99 import Reader, Value, parsed
from tests.lower.reader.judge import Judge
from tests.lower.reader.preprocess import UnequalError
from tests.lower.reader.single import SingleTerms
from tests.lower.reader.terms import Flag, Number, Terms, opposite

ENDS = st.tuples(st.integers(-60, 60), st.integers(0, 90)).map(
    lambda pair: Range(pair[0], pair[0] + pair[1])
)
ENTRIES = (3, 0, -4, 120, 120, 7)
FACTORS = st.sampled_from([-12, -5, -4, -1, 1, 2, 3, 4, 6, 8])
KINDS = (
    "plus",
    "minus",
    "times",
    "product",
    "shift",
    "mask",
    "quotient",
    "pick",
    "constant",
    "both",
    "wrap",
    "signed",
    "entry",
    "mirrored",
)


@given(st.lists(ENDS, min_size=2, max_size=3), st.data())
def test_terms_mean_what_arithmetic_says(ends: list[Range], data: st.DataObject) -> None:
    """Sums, products, shifts, remainders and choices of small numbers, made one on another at random."""
    terms = SingleTerms()
    made: list[tuple[Number, int]] = []
    values: dict[Any, Any] = {}
    for at, reach in enumerate(ends):
        number, value = terms.variable(f"v{at}", reach), data.draw(st.integers(*reach))
        values[number.parts[0][0]] = value
        made.append((number, value))
    for _ in range(data.draw(st.integers(1, 9))):
        number, value = _one_more(terms, made, data)
        meaning.evaluate(meaning.Arrays(), [number], values)
        assert int(meaning.number(meaning.Arrays(), number, values)) == value
        assert value in terms.reach(number)
        made.append((number, value))


def _one_more(terms: Terms, made: list[tuple[Number, int]], data: st.DataObject) -> tuple[Number, int]:
    a, x = data.draw(st.sampled_from(made))
    b, y = data.draw(st.sampled_from(made))
    kind, factor, bits = data.draw(st.sampled_from(KINDS)), data.draw(FACTORS), data.draw(st.integers(1, 7))
    if kind in ("pick", "both"):
        return _choice(terms, made, data, both=kind == "both")
    if kind == "quotient":
        b, y = terms.plus(terms.mask(b, 4), terms.constant(factor)), y % 16 + factor
        return terms.quotient(a, b), max(x, 0) // max(y, 1)
    if kind == "wrap":
        rest, half = terms.mask(a, bits), terms.constant(2 ** (bits - 1))
        under = terms.plus(rest, terms.constant(-(2**bits)))
        return terms.choose(terms.less(rest, half), rest, under), (x + 2 ** (bits - 1)) % 2**bits - 2 ** (
            bits - 1
        )
    if kind == "signed":
        amount, turned = terms.larger(a, terms.times(a, -1)), data.draw(st.booleans())
        arms = [terms.times(amount, -1), amount][:: -1 if turned else 1]
        return terms.choose(terms.less(a, terms.constant(0)), *arms), -x if turned else x
    if kind == "product" and max(abs(x), abs(y)) > 10**5:
        kind = "plus"
    done = {
        "plus": lambda: (terms.plus(a, b), x + y),
        "minus": lambda: (terms.minus(a, b), x - y),
        "times": lambda: (terms.times(a, factor), x * factor),
        "product": lambda: (terms.product(a, b), x * y),
        "shift": lambda: (terms.shift(a, bits), x >> bits),
        "mask": lambda: (terms.mask(a, bits), x % 2**bits),
        "constant": lambda: (terms.plus(a, terms.constant(factor)), x + factor),
        "entry": lambda: (terms.entry(ENTRIES, a), ENTRIES[min(max(x, 0), len(ENTRIES) - 1)]),
        "mirrored": lambda: (terms.smaller(a, terms.minus(terms.constant(bits), a)), min(x, bits - x)),
    }
    return done[kind]()


def _choice(
    terms: Terms, made: list[tuple[Number, int]], data: st.DataObject, *, both: bool
) -> tuple[Number, int]:
    flag, holds = _question(terms, made, data)
    if both:
        other, true = _question(terms, made, data)
        flag, holds = terms.both(flag, other), holds and true
    if data.draw(st.booleans()):
        flag, holds = opposite(flag), not holds
    a, x = data.draw(st.sampled_from(made))
    b, y = data.draw(st.sampled_from([*made, (terms.constant(3), 3), (terms.constant(0), 0)]))
    return terms.choose(flag, a, b), x if holds else y


def _question(terms: Terms, made: list[tuple[Number, int]], data: st.DataObject) -> tuple[Flag, bool]:
    a, x = data.draw(st.sampled_from(made))
    b, y = data.draw(st.sampled_from([*made, (terms.constant(5), 5)]))
    return (terms.less(a, b), x < y) if data.draw(st.booleans()) else (terms.equal(a, b), x == y)


def test_the_judge_tells_true_from_false() -> None:
    """By trying in full and by the solver: a rounding that is right, and one that is not for one number."""
    for reach in (Range(-40_000, 40_000), Range(-(2**28), 2**28)):
        terms = Terms()
        x, judge = terms.variable("x", reach), Judge(terms)
        half = terms.shift(terms.plus(x, terms.constant(1)), 1)
        again = terms.minus(x, terms.shift(x, 1))
        assert judge.same(half, again)
        wrong = terms.choose(terms.equal(x, terms.constant(-321)), terms.constant(0), again)
        assert not judge.same(half, wrong)


def test_the_judge_tells_true_tables_from_false() -> None:
    """One of six numbers another: by trying in full, and by the solver, which knows tables as well."""
    for reach in (Range(-40_000, 40_000), Range(-(2**28), 2**28)):
        terms = Terms()
        x, judge = terms.variable("x", reach), Judge(terms)
        right, wrong = (terms.entry(values, x) for values in (ENTRIES, (*ENTRIES[:4], 119, *ENTRIES[5:])))
        at_four = terms.choose(terms.equal(x, terms.constant(4)), terms.constant(1), terms.constant(0))
        assert judge.same(terms.plus(wrong, at_four), right)
        assert not judge.same(wrong, right)


def test_the_judge_tries_a_sum_over_all_that_it_may_be() -> None:
    """Two numbers of 16,384 values to either side: their sum is tried as one number, up to its ends."""
    terms = Terms()
    x, y = (terms.variable(name, Range(-16384, 16384)) for name in "xy")
    total, judge = terms.plus(x, y), Judge(terms)
    assert judge.holds(
        opposite(terms.less(terms.constant(32768), terms.smaller(total, terms.constant(40000))))
    )
    assert not judge.holds(opposite(terms.less(terms.constant(32767), total)))
    assert not judge.holds(opposite(terms.less(total, terms.constant(-32767))))


def test_the_judge_tries_a_sum_in_which_a_number_counts_twice() -> None:
    """What hangs on x + 2y alone is tried as one number, not as a hundred million pairs; not x + 3y."""
    terms = Terms()
    x, y = (terms.variable(name, Range(-5000, 5000)) for name in "xy")
    total, judge = terms.plus(x, terms.times(y, 2)), Judge(terms)
    three, few = terms.times(total, 3), terms.less(total, terms.constant(5))
    gap = terms.minus(terms.times(terms.shift(terms.plus(three, terms.constant(2)), 2), 4), three)
    assert judge.holds(opposite(terms.both(few, terms.less(terms.constant(2), gap))))
    assert judge.settled == {"by itself": 1}
    assert not judge.holds(opposite(terms.both(few, terms.less(terms.constant(1), gap))))
    other = terms.less(terms.plus(total, y), terms.constant(5))
    assert not judge.holds(opposite(terms.both(few, opposite(other))))


def test_sums_are_the_same_where_all_that_hangs_on_one_thing_is() -> None:
    """Two numbers rounded each in two ways; not where one value of one of them makes a difference."""
    terms = SingleTerms()
    numbers = [terms.variable(name, Range(-300, 300)) for name in "xy"]
    halves = [terms.shift(number, 1) for number in numbers]
    rest = [terms.plus(terms.mask(number, 1), terms.shift(number, 1)) for number in numbers]
    whole = terms.plus(*numbers)
    right = terms.plus(terms.plus(*halves), terms.plus(*rest))
    assert terms.equal(right, whole) is True
    assert terms.equal(right, terms.plus(whole, terms.constant(1))) is False
    once = terms.choose(terms.equal(numbers[1], terms.constant(-299)), terms.constant(1), terms.constant(0))
    assert not isinstance(terms.equal(terms.plus(right, once), whole), bool)


def test_what_is_the_same_has_the_same_bounds_but_not_where_it_is_so_on_a_path_alone() -> None:
    """An amount made in another manner is never negative either; a number that is one on a path may be."""
    terms = SingleTerms()
    reach, nothing = Range(-300, 300), terms.constant(0)
    x, y = (terms.variable(name, reach) for name in "xy")
    made = terms.minus(y, terms.times(terms.smaller(y, nothing), 2))
    drive = np.arange(4, 90)
    alike = Alike(Judge(terms), {number.parts[0][0]: drive * by for number, by in ((x, 1), (y, -3))})
    for number in (x, made):
        alike.add(number)
    amounts = [terms.larger(number, terms.times(number, -1)) for number in (x, y)]
    assert alike.known(amounts[0], [opposite(terms.less(x, nothing))]) is x
    assert terms.reach(x) == reach
    assert terms.reach(made) == Range(-300, 900)
    assert alike.known(amounts[1]) is made
    assert terms.reach(made) == Range(0, 300)


def test_the_judge_gives_up_after_its_own_steps() -> None:
    """Two products in two orders of brackets: no answer is no yes."""
    terms = Terms()
    x, y, z = (terms.variable(name, Range(-(2**20), 2**20)) for name in "xyz")
    one = terms.product(terms.product(x, y), z)
    assert not Judge(terms, steps=1000).same(one, terms.product(x, terms.product(y, z)))


TABLES = """
#if defined(__AVR__)
#include <avr/pgmspace.h>
#define IN_FLASH PROGMEM
#define READ_SHORT(number) ((int16_t)pgm_read_word(&(number)))
#define READ_BYTE(number) (pgm_read_byte(&(number)))
#else
#define IN_FLASH
#define READ_SHORT(number) (number)
#define READ_BYTE(number) (number)
#endif
static const int16_t base[3] IN_FLASH = { 0, 300, 5000 };
static const uint8_t more[] IN_FLASH = { 7, 200, 250, 3, 0 };
static const int16_t low[2] IN_FLASH = { -1, 4 };
static const int16_t plain[2] = { -300, 500 };
"""
"""Where a compiler for an AVR puts numbers into flash, and any other does nothing."""
UNDEFINED = {
    "an overflow of +": "int32_t f(int32_t x) { return x + 1; }",
    "an overflow of *": "int32_t f(int16_t x) { return x * x; }",
    "an overflow of -": "int32_t f(int32_t x) { return -x; }",
    ">> of a negative": "int32_t f(int32_t x) { return x >> 1; }",
    "<< of a negative": "int32_t f(int8_t x) { return x << 1; }",
    "beyond the width": "uint16_t f(uint16_t x) { return x >> 16; }",
    "does not fit": "int16_t f(int32_t x) { return (int16_t)x; }",
    "division by zero": "uint16_t f(uint16_t x) { return 7u / x; }",
    "a division by": "uint8_t f(int8_t x) { return 9u / ((uint8_t)(x > 7 - x ? x : 7 - x) - 4u); }",
    "has no value": "int16_t f(int16_t x) { int16_t y; if (x > 3) { y = 1; } return y; }",
    "end is not known": "int16_t f(int16_t x) { for (int16_t i = 0; i < x; i++) { } return x; }",
    "index of more out of bounds": "uint8_t f(uint8_t x) { return READ_BYTE(more[x > 5 ? 5 : x]); }",
    "index of plain out of bounds": "int16_t f(int8_t x) { return plain[x < 1 ? x : 1]; }",
    "base is not read where it lies": "int16_t f(uint8_t x) { return base[x & 1]; }",
    "plain is not read where it lies": "int16_t f(uint8_t x) { return READ_SHORT(plain[x & 1]); }",
    "pgm_read_byte of something else": "uint8_t f(uint8_t x) { return READ_BYTE(base[x & 1]); }",
    "conversion that does not fit": "int16_t f(uint8_t x) { return READ_SHORT(low[x & 1]); }",
    "outlives its function": "int16_t f(int16_t x) { static int16_t y = 0; y++; return y > 1 ? x : y; }",
}
DEFINED = {
    "int32_t f(int32_t x) { return x < 2147483647 ? x + 1 : 0; }": 8,
    "int32_t f(int16_t x) { return (int32_t)x * x; }": 49,
    "uint16_t f(uint16_t x) { uint16_t y = 0; for (uint8_t i = 0; i < 3; i++) { y += x; } return y; }": 21,
    "int16_t f(int16_t x) { int16_t y; if (x > 3) { y = 1; } else { y = 2; } return y; }": 1,
    "int16_t f(int16_t x) { if (x > 3) { return 5; } return x; }": 5,
    "uint16_t f(uint16_t x) { return (uint16_t)(x - 8u); }": 65535,
    "uint8_t f(uint16_t x) { return (uint16_t)(x - 8u) <= 1400u; }": 0,
    "uint8_t f(uint8_t x) { if (x < 125) { x++; } return x; }": 8,
    "int16_t f(uint8_t x) { return READ_SHORT(base[(x & 7) >> 2]) + READ_BYTE(more[x & 3]); }": 303,
    "uint8_t f(uint8_t x) { return READ_BYTE(more[x > 4 ? 4 : x]); }": 0,
    "int16_t f(uint8_t x) { return plain[x & 1]; }": 500,
    "uint8_t f(int8_t x) { return 9u / ((uint8_t)(x > 7 - x ? x : 7 - x) - 3u); }": 2,
}


def _run(text: str, at: int | None = None, int_width: int = 16) -> Value:
    source, terms = parsed(TABLES + text, int_width), Terms()
    reader = Reader(source, Judge(terms), int_width, lambda value: value)
    parameter = source.functions["f"].decl.type.args.params[0]
    kind = reader.type_of(parameter.type)
    number = terms.variable("x", kind.reach) if at is None else terms.constant(at)
    reader.where = ["f"]
    given = {"x": Value(number, kind), " x": Value(number, kind)}
    found = reader.run(source.functions["f"].body.block_items, given)
    assert found is not None
    return reader.convert(found, reader.type_of(source.functions["f"].decl.type.type))


@pytest.mark.parametrize("what", UNDEFINED)
def test_what_c_leaves_open_is_refused(what: str) -> None:
    """One little function for each way to fall into it, with 16-bit ints."""
    with pytest.raises(UnequalError, match=what):
        _run(UNDEFINED[what])


@pytest.mark.parametrize("text", DEFINED)
def test_what_is_defined_is_read_as_c_has_it(text: str) -> None:
    """The same care taken well passes for every number, and gives what C gives for seven."""
    _run(text)
    assert _run(text, 7).number.constant == DEFINED[text]


def test_a_table_is_plain_where_there_is_no_flash() -> None:
    """The macros' other side: there a number below nothing is what it is."""
    assert _run("int16_t f(uint8_t x) { return READ_SHORT(low[x & 1]); }", 6, 32).number.constant == -1


@pytest.mark.parametrize(
    "line", ["#error no", "#include <math.h>", "#if X > 3\n#endif", "#define A(x) A(A(x))"]
)
def test_a_line_for_the_preprocessor_that_is_not_known_is_refused(line: str) -> None:
    """What it may do to the rest nobody can tell."""
    with pytest.raises(UnequalError):
        parsed(f"{line}\nint16_t f(int16_t x) {{ return A(x); }}\n", 16)


def test_macros_are_put_in_as_the_preprocessor_does() -> None:
    """Those of a branch that counts, arguments with brackets and commas of their own, macros in macros."""
    text = """
#ifndef ONCE
#define ONCE
#define TWICE(a, b) ((a) * 2 + \\
    (b))
#define FOUR TWICE(TWICE(1, 0), 0)
#if !defined(ONCE) || defined(__GNUC__)
#define PLUS +
#else
#define PLUS -
#endif
#endif
static int two(int a, int b) { return a - b; }
int16_t f(int8_t x) { return TWICE(two(x, (1)), x) PLUS FOUR; }
"""
    assert _run(text, 7).number.constant == 6 * 2 + 7 + 4
