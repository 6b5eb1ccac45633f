"""Which readings were taken of one and the same build.

Edges settle anew when discs are put together, so a build has one scatter of its own. It
stands until the stack is taken apart: until its disc list changes, or a reading says that
it was rebuilt. Sub-stacks gauged by themselves and kept together are builds of their own,
and stay so inside a longer stack, but for the outer faces of their end discs.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from optimizer.model.readings import Reading
from optimizer.model.stack import Stack, discs_of, same_stack

#: share of a disc's edge scatter that each of its two faces brings (assumed, no source)
FACE = 0.5


@dataclass(frozen=True)
class BuiltStack:
    """A stack as its builds: their numbers, and the number of each packet's build (P).

    A packet that was never pressed so before has the build -1. `joint` is the build of what
    settled when the stack was put together: packets of no group, and faces where groups meet.
    """

    packs: Stack
    build: tuple[int, ...]
    joint: int = -1

    @property
    def builds(self) -> tuple[int, ...]:
        """All its builds, that of its packets first."""
        return (*self.build, self.joint)

    @property
    def fresh(self) -> tuple[float, ...]:
        """Share of each packet's edge scatter (P) that its joint holds, or will once it is built.

        All of a packet in no group, that of the faces that met something else where one ends.
        """
        own = (-1, *(-1 if b == self.joint else b for b in self.build), -1)
        return tuple(
            FACE * ((at < 0 or at != below) + (at < 0 or at != above))
            for below, at, above in zip(own, own[1:], own[2:], strict=False)
        )


@dataclass(frozen=True)
class Standing:
    """What stands now: the build number of each shoe's packets, and of each sub-stack."""

    shoes: Mapping[int, BuiltStack]
    groups: Mapping[Stack, int]

    def built(self, shoe: int, packs: Stack) -> BuiltStack:
        """Return a stack under a shoe with the builds it would keep."""
        now = self._standing(shoe, packs)
        if now is not None:
            numbers = dict(zip(map(_sorted, now.packs), now.build, strict=True))
            return BuiltStack(packs, tuple(numbers[_sorted(p)] for p in packs), now.joint)
        build = [-1] * len(packs)
        for group, number in self.groups.items():
            size = len(group)
            for at in range(len(packs) - size + 1):
                if packs[at : at + size] == group:
                    build[at : at + size] = [number] * size
        return BuiltStack(packs, tuple(build))

    def anew(self, shoe: int, packs: Stack) -> tuple[float, ...]:
        """Share of each packet's edge scatter (P) that is drawn anew when the stack is built.

        All of a packet never pressed so before, that of the faces that met something else
        where a sub-stack ends, nothing in a stack that stands.
        """
        if self._standing(shoe, packs) is not None:
            return (0.0,) * len(packs)
        return self.built(shoe, packs).fresh

    def stands(self, shoe: int, packs: Stack) -> bool:
        """Whether a shoe has just these packets, in any order."""
        return self._standing(shoe, packs) is not None

    def _standing(self, shoe: int, packs: Stack) -> BuiltStack | None:
        """What stands under a shoe, if it is just these packets, in any order."""
        now = self.shoes.get(shoe)
        return now if now is not None and same_stack(now.packs, packs) else None


def track(readings: Sequence[Reading], keep_groups: bool) -> tuple[list[BuiltStack], int, Standing]:
    """Number the builds of readings in order.

    `keep_groups` tells that discs gauged as a sub-stack (no shoe given) stay together.
    Returns the build of each reading, how many builds there are, and what stands at last.
    """
    shoes: dict[int, BuiltStack] = {}
    groups: dict[Stack, int] = {}
    seen: list[BuiltStack] = []
    round_of: dict[int, int] = {}
    count = 0
    for reading in readings:
        shoe, packs = reading.shoe, reading.packs
        new_round = shoe is not None and round_of.get(shoe) != reading.round
        if reading.rebuilt and new_round and shoe is not None:
            shoes.pop(shoe, None)
        if shoe is None:
            kept = groups.get(packs, -1) if not reading.rebuilt else -1
            built = BuiltStack(packs, (kept,) * len(packs), kept)
        else:
            built = Standing(shoes, groups).built(shoe, packs)
            round_of[shoe] = reading.round
        if built.joint < 0:
            number = tuple(count if b < 0 else b for b in built.build)
            built = BuiltStack(packs, number, count)
            count += 1
        if shoe is not None:
            taken = discs_of(packs)
            shoes = {k: b for k, b in shoes.items() if not taken & discs_of(b.packs)}
            shoes[shoe] = built
        elif keep_groups:
            groups[packs] = built.build[0]
        seen.append(built)
    return seen, count, Standing(shoes, groups)


def _sorted(packet: tuple[str, ...]) -> tuple[str, ...]:
    return tuple(sorted(packet))
