"""Which cases the plain suite asks, where the long one asks the rest as well."""

from collections.abc import Iterable
from typing import Any

import pytest
from hypothesis import settings


def cases(plain: Iterable[Any], long: Iterable[Any]) -> list[Any]:
    """Values for `parametrize`: the first are always asked, the others with --long."""
    rest = [value if isinstance(value, tuple) else (value,) for value in long]
    return [*plain, *(pytest.param(*values, marks=pytest.mark.long) for values in rest)]


def examples(plain: int, long: int) -> settings:
    """So many drawn examples in the plain suite, and so many with --long."""
    return settings(max_examples=plain if settings().derandomize else long)
