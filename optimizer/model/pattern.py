"""Patterns: how many packets of each size a stack has, and which can be thought of."""

from __future__ import annotations

from collections.abc import Iterator, Sequence, Sized
from dataclasses import dataclass

#: more packets than this in one stack are never needed: travel is then too long by far
MOST_PACKETS = 40


@dataclass(frozen=True, order=True)
class Pattern:
    """Number of single discs, pairs and triples in series in one stack."""

    singles: int
    pairs: int = 0
    triples: int = 0

    @staticmethod
    def of(stack: Sequence[Sized]) -> Pattern:
        """Return the pattern of a stack of packets."""
        return Pattern(*(sum(len(packet) == size for packet in stack) for size in (1, 2, 3)))

    @property
    def counts(self) -> tuple[int, int, int]:
        """Packets of size 1, 2 and 3."""
        return self.singles, self.pairs, self.triples

    @property
    def by_size(self) -> dict[int, int]:
        """Packets of each size that it has, without those that it has none of."""
        return {size: n for size, n in enumerate(self.counts, 1) if n}

    @property
    def packets(self) -> int:
        """Packets in series."""
        return sum(self.counts)

    @property
    def discs(self) -> int:
        """Discs in the stack."""
        return self.singles + 2 * self.pairs + 3 * self.triples

    @property
    def sizes(self) -> tuple[int, ...]:
        """Packet sizes of the stack, one entry a packet, smallest first."""
        return tuple(size for size, n in self.by_size.items() for _ in range(n))

    def __str__(self) -> str:
        """Say the pattern in words, such as "6 singles + 1 pair"."""
        names = (("single", self.singles), ("pair", self.pairs), ("triple", self.triples))
        return " + ".join(f"{n} {name}{'s' if n > 1 else ''}" for name, n in names if n)


def patterns(packet_sizes: tuple[int, ...], discs: tuple[int, int]) -> Iterator[Pattern]:
    """Yield every pattern of the allowed packet sizes with a disc count in the window."""
    low, high = discs
    for triples in range(high // 3 + 1 if 3 in packet_sizes else 1):
        for pairs in range((high - 3 * triples) // 2 + 1 if 2 in packet_sizes else 1):
            rest = high - 3 * triples - 2 * pairs
            for singles in range(rest + 1 if 1 in packet_sizes else 1):
                pattern = Pattern(singles, pairs, triples)
                if max(low, 1) <= pattern.discs <= high and pattern.packets <= MOST_PACKETS:
                    yield pattern
