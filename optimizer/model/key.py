"""What a value of a job says of its key beside its name, unit, range and default.

The values of `optimizer.model` are the one statement of the keys of a job: the name of a field
ends in the unit used inside, its type holds the range, its default is that of the key, and
`Says` is what people read. Reader, template, forms and the table of keys are made from it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import inf


@dataclass(frozen=True)
class Says:
    """Meaning of a key, and what an example of it shows.

    `likely` is the range that needs no question: a length outside it that would be inside it in
    the other unit was most likely typed under the wrong unit, and is refused. `example` is
    what a template shows, metric and inch, where the default would be no good example, and
    `is_set` tells that it stands there without a #. `key` names the key where it is not called
    as the field.
    """

    meaning: str
    likely: tuple[float, float] = (-inf, inf)
    example: tuple[str, str] | None = None
    is_set: bool = False
    key: str = ""


def rising(window: Sequence[float]) -> bool:
    """Tell whether a window names its lower end first."""
    return window[0] <= window[1]


def distinct(values: Sequence[object]) -> bool:
    """Tell whether every value stands there once."""
    return len(set(values)) == len(values)
