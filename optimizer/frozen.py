"""Values that hold arrays, frozen: nobody writes into one, and == compares what they hold."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import fields, is_dataclass
from typing import Any, Self, TypeVar

import numpy as np

C = TypeVar("C")


def frozen_arrays(cls: type[C]) -> type[C]:
    """Make arrays in fields read-only views, and equality by content; stands under `@dataclass`.

    The views are of the arrays that were given, which are neither copied nor locked for their
    owner. A dataclass of arrays would otherwise raise on ==, as no array is true or false.
    """

    def post_init(self: Any) -> None:
        for name, value in vars(self).items():
            locked = _locked(value)
            if locked is not value:
                object.__setattr__(self, name, locked)

    def equal(self: Any, other: Any) -> bool:
        if type(self) is not type(other):
            return False
        return all(_same(getattr(self, f.name), getattr(other, f.name)) for f in fields(self))

    cls.__post_init__ = post_init  # type: ignore[attr-defined]
    cls.__eq__ = equal  # type: ignore[method-assign]
    return cls


def taken(value: C, rows: Any) -> C:
    """Return a dataclass with its arrays, and those of dataclasses in it, at `rows` alone."""
    some: C = object.__new__(type(value))
    every: Any = value
    for name in (field.name for field in fields(every)):  # searches take some thousands of times
        own = getattr(value, name)
        if isinstance(own, np.ndarray):
            own = own[rows]
            own.setflags(write=False)
        elif is_dataclass(own):
            own = taken(own, rows)
        some.__dict__[name] = own
    return some


class Rows:
    """What a dataclass is whose arrays have an entry for each of many things."""

    def take(self, rows: Any) -> Self:
        """Return those at `rows`, in the shape of that."""
        return taken(self, rows)


def joined(parts: Iterable[C]) -> C:
    """Return a dataclass of arrays alone whose arrays are those of all parts, one after another."""
    parts = list(parts)
    every: Any = type(parts[0])
    names = [field.name for field in fields(every)]
    made: C = every(*(np.concatenate([getattr(p, name) for p in parts]) for name in names))
    return made


def _locked(value: Any) -> Any:
    """Return arrays, also those in a tuple or a mapping, as views that cannot be written to."""
    if isinstance(value, np.ndarray):
        view = value.view()
        view.flags.writeable = False
        return view
    if type(value) is tuple and any(isinstance(v, np.ndarray) for v in value):
        return tuple(map(_locked, value))
    if type(value) is dict and any(isinstance(v, np.ndarray) for v in value.values()):
        return {key: _locked(v) for key, v in value.items()}
    return value


def _same(one: Any, other: Any) -> bool:
    if one is other:
        return True
    if isinstance(one, np.ndarray) and isinstance(other, np.ndarray):
        return np.array_equal(one, other, equal_nan=one.dtype.kind == other.dtype.kind == "f")
    if isinstance(one, np.ndarray) or isinstance(other, np.ndarray):
        return False
    if isinstance(one, tuple) and isinstance(other, tuple):
        return len(one) == len(other) and all(map(_same, one, other))
    if isinstance(one, Mapping) and isinstance(other, Mapping):
        return one.keys() == other.keys() and all(_same(one[k], other[k]) for k in one)
    return bool(one == other)
