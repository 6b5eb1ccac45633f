"""Frozen means frozen, for every value of the program that holds arrays."""

import importlib
import pkgutil
import re
from dataclasses import dataclass, fields, is_dataclass

import numpy as np
import pytest

import optimizer
from optimizer.frozen import frozen_arrays

HOLDS_ARRAYS = re.compile(r"\b(Array|Index|Masks?|Flags|NDArray)\b")


@dataclass(frozen=True)
@frozen_arrays
class Loads:
    name: str
    mean_n: np.ndarray
    parts: tuple[np.ndarray, ...] = ()
    sizes: dict[int, np.ndarray] | None = None


def loads(name: str = "a", first: float = 1.0) -> Loads:
    return Loads(name, np.array([first, np.nan]), (np.arange(3),), {1: np.ones(2)})


def test_no_array_of_a_value_can_be_written_to():
    at = loads()
    for array in (at.mean_n, at.parts[0], at.sizes[1]):
        with pytest.raises(ValueError, match="read-only"):
            array[0] = 5


def test_the_owner_of_an_array_keeps_it():
    mine = np.zeros(2)
    Loads("a", mine)
    mine[0] = 1.0
    assert mine[0] == 1.0


def test_equal_is_what_holds_the_same():
    assert loads() == loads()
    assert loads() != loads("b")
    assert loads() != loads(first=2.0)
    assert loads() != Loads("a", np.ones(3)) != "a"
    assert loads() != Loads("a", np.array([1.0, np.nan]), (np.arange(3), np.arange(3)), {})


def test_every_value_with_arrays_is_frozen():
    loose = []
    for module in pkgutil.walk_packages(optimizer.__path__, "optimizer."):
        for found in vars(importlib.import_module(module.name)).values():
            if not (isinstance(found, type) and found.__module__ == module.name):
                continue
            if not is_dataclass(found) or not found.__dataclass_params__.frozen:
                continue
            holds = any(HOLDS_ARRAYS.search(str(f.type)) for f in fields(found))
            if holds and "frozen_arrays" not in found.__eq__.__qualname__:
                loose.append(f"{module.name}.{found.__name__}")
    assert not loose, f"put @frozen_arrays under @dataclass of {loose}"
