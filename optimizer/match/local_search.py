"""Best-swap descent: many starts at once, the best exchange of two discs each step.

A start deals discs at random into the places of the subproblem. Every step tries all exchanges
of two placed discs and of a placed with a spare disc, on the packets' constants, and takes
the best; it ends where no exchange helps.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import permutations

import numpy as np

from optimizer.estimate.problem import Task
from optimizer.frozen import frozen_arrays
from optimizer.match.subproblem import Subproblem
from optimizer.mechanics.disc import Array
from optimizer.mechanics.packet import Index

#: cost, in N^2, of a packet that has no column: never worth taking
FORBIDDEN = 1e12
MOST_STEPS = 400


@dataclass(frozen=True)
@frozen_arrays
class Places:
    """The places of a subproblem, N of them: the stack, the packet and the seat in it of each.

    `mates` (N, 2) are the other places of the same packet, -1 where there are fewer.
    """

    stack: Index
    packet: Index
    mates: Index

    def __len__(self) -> int:
        """Return the number of places."""
        return len(self.stack)


def places(subproblem: Subproblem) -> Places:
    """Lay out the places of a subproblem, stack by stack, packet by packet."""
    stack: list[int] = []
    packet: list[int] = []
    mates: list[list[int]] = []
    number = 0
    for at, pattern in enumerate(subproblem.patterns):
        for size in pattern.sizes:
            first = len(stack)
            for seat in range(size):
                others = [first + k for k in range(size) if k != seat]
                stack.append(at)
                packet.append(number)
                mates.append([*others, -1, -1][:2])
            number += 1
    return Places(
        np.array(stack, dtype=np.intp),
        np.array(packet, dtype=np.intp),
        np.array(mates, dtype=np.intp),
    )


class Lookup:
    """Finds the column of a packet from its discs, in any order."""

    def __init__(self, subproblem: Subproblem, discs: int) -> None:
        """Index the columns of `subproblem` over `discs` disc numbers; a missing one is M."""
        members, size = subproblem.columns.members, subproblem.columns.size
        missing = len(members)
        self._by_size = {}
        for k in np.unique(size):
            rows = np.flatnonzero(size == k)
            table = np.full((discs,) * int(k), missing, dtype=np.int32)
            for order in permutations(range(int(k))):
                table[tuple(members[rows, seat] for seat in order)] = rows
            self._by_size[int(k)] = table

    def __call__(self, *discs: Index) -> Index:
        """Return the column numbers of packets whose discs are given seat by seat."""
        return self._by_size[len(discs)][discs].astype(np.intp)


@dataclass(frozen=True)
@frozen_arrays
class Score:
    """What a descent minimises: squared misfit of each row beyond its slack, and variance.

    `slack_n` (R) is the deviation of each row that counts as none, `weight` (R) the price
    of one N^2 beyond it, `variance` the price of one N^2 of variance.
    """

    slack_n: Array
    weight: Array
    variance: float


class Descent:
    """The tables of a subproblem, ready for descents from any dealing of its discs."""

    def __init__(self, task: Task, subproblem: Subproblem) -> None:
        """Tabulate constants, room and height of every column."""
        self.places = places(subproblem)
        self.usable = task.usable
        self.members = subproblem.columns.members
        self.lookup = Lookup(subproblem, len(task.belief))
        self.centred = np.array([row.centred for row in subproblem.rows])
        constants = np.stack([row.constant_n for row in subproblem.rows], axis=-1)  # M, S, R
        extra = [subproblem.cost]
        self.height: tuple[float, float] | None = task.rules.free_height_mm
        if self.height is not None:
            extra.append(subproblem.columns.free_mm)
        shared = np.repeat(np.stack(extra, axis=-1)[:, None, :], task.shoes, axis=1)
        values = np.concatenate([constants, shared], axis=-1)
        missing = np.zeros((1, *values.shape[1:]))
        missing[..., len(subproblem.rows)] = FORBIDDEN
        # K, S, M+1: in all that a step computes, long axes come last, over which numpy is quick
        self.values = np.concatenate([values, missing]).transpose(2, 1, 0).copy()
        room = np.stack([row.room_n for row in subproblem.rows], axis=-1)
        self.room = np.concatenate([room, np.zeros((task.shoes, len(extra)))], axis=-1).T
        self.mm_price = subproblem.rate_n_per_mm
        n = len(self.places)
        self.at_stack = (np.arange(task.shoes)[:, None] == self.places.stack).astype(np.float64)
        first, second = np.triu_indices(n, 1)
        apart = self.places.packet[first] != self.places.packet[second]
        self.first, self.second = first[apart], second[apart]
        self.whole = _whole_swaps(self.places)

    @property
    def options(self) -> int:
        """Exchanges of one disc that a step looks at."""
        return len(self.first) + len(self.places) * (len(self.usable) - len(self.places))

    def deal(self, rng: np.random.Generator, starts: int) -> Index:
        """Deal the usable discs at random: (starts, n), the first N of each row are placed."""
        return rng.permuted(np.tile(self.usable, (starts, 1)), axis=1)

    def deal_like(self, rng: np.random.Generator, starts: int, share: Array) -> Index:
        """Deal as in `deal`, but with the packets that a relaxed answer takes `share` (M) of.

        Packets are drawn one by one in proportion to their share, as long as no disc of
        theirs is placed yet; what is then missing is dealt at random.
        """
        likely = np.flatnonzero(share > 1e-6)
        members = [row[row >= 0] for row in self.members[likely]]
        first = np.unique(self.places.packet, return_index=True)[1]
        size = 1 + (self.places.mates[first] >= 0).sum(1)
        dealt = np.empty((starts, len(self.usable)), dtype=np.intp)
        for start in range(starts):
            row = np.full(len(self.usable), -1, dtype=np.intp)
            seats = {int(k): list(rng.permutation(first[size == k])) for k in np.unique(size)}
            placed: set[int] = set()
            drawn = rng.exponential(size=len(likely)) / share[likely]
            for at in np.argsort(drawn, kind="stable"):
                discs = members[at]
                if seats[len(discs)] and placed.isdisjoint(discs.tolist()):
                    seat = seats[len(discs)].pop()
                    row[seat : seat + len(discs)] = discs
                    placed.update(discs.tolist())
            left = rng.permutation([disc for disc in self.usable if disc not in placed])
            row[row < 0] = left
            dealt[start] = row
        return dealt

    def run(
        self, dealt: Index, score: Score, over: Callable[[], bool], enough: float = -1.0
    ) -> tuple[Index, Array]:
        """Descend from every dealing; return the dealings and their scores.

        Stops early when one start scores `enough` or less, or when `over()`.
        """
        dealt = dealt.copy()
        state = self._state(dealt)
        value = self.evaluate(state, score)
        active = np.arange(len(dealt))
        for _ in range(MOST_STEPS):
            if len(active) == 0 or value.min() <= enough or over():
                break
            best, take, left, right = self._best_exchange(dealt[active], state[..., active], score)
            better = best < value[active] * (1 - 1e-9) - 1e-12
            rows = active[better]
            for a, b in zip(left[better].T, right[better].T, strict=True):
                dealt[rows, a], dealt[rows, b] = dealt[rows, b], dealt[rows, a]
            state[..., rows] = take[..., better]
            value[rows] = best[better]
            active = rows
        return dealt, value

    def evaluate(self, state: Array, score: Score) -> Array:
        """Score states (K, S, ...)."""
        rows = len(score.slack_n)
        total: Array = score.variance * state[rows].sum(0)
        for deviation, centred, slack, weight in zip(
            state[:rows], self.centred, score.slack_n, score.weight, strict=True
        ):
            if centred:
                deviation = deviation - deviation.mean(0)
            total += weight * (np.maximum(np.abs(deviation) - slack, 0.0) ** 2).sum(0)
        if self.height is not None:
            low, high = self.height
            mm = state[rows + 1]
            outside = np.maximum(mm - high, 0.0) + np.maximum(low - mm, 0.0)
            total += (self.mm_price * outside).sum(0) ** 2 * 10
        total += np.where(state[rows].max(0) >= FORBIDDEN / 2, FORBIDDEN, 0.0)
        return total

    def _state(self, dealt: Index) -> Array:
        """Sums over each stack of what its packets contribute, less the room: (K, S, B)."""
        first = np.unique(self.places.packet, return_index=True)[1]
        column = self.columns_at(dealt, first)
        each = self.values[:, self.places.stack[first], column]  # K, B, packets
        total = np.einsum("kbp,sp->ksb", each, self.at_stack[:, first])
        state: Array = total - self.room[..., None]
        return state

    def columns_at(self, dealt: Index, place: Index) -> Index:
        """Column of the packet at each of some places: (B, len(place))."""
        own = dealt[:, place]
        return self._with(dealt, place, own)

    def replaced(self, dealt: Index) -> Index:
        """Column (B, N, n) of the packet at each place if it took the disc at each position."""
        n = len(self.places)
        offered = np.broadcast_to(dealt[:, None, :], (len(dealt), n, dealt.shape[1]))
        return self._with(dealt, np.arange(n), offered)

    def _with(self, dealt: Index, place: Index, disc: Index) -> Index:
        """Column of the packet at places (P) if its own disc were `disc` (B, P, ...)."""
        column = np.empty(disc.shape, dtype=np.intp)
        mates = self.places.mates[place]
        size = 1 + (mates >= 0).sum(1)
        shape = (len(dealt), -1) + (1,) * (disc.ndim - 2)
        for k in np.unique(size):
            rows = np.flatnonzero(size == k)
            others = [dealt[:, mates[rows, j]].reshape(shape) for j in range(k - 1)]
            column[:, rows] = self.lookup(disc[:, rows], *others)
        return column

    def _best_exchange(
        self, dealt: Index, state: Array, score: Score
    ) -> tuple[Array, Array, Index, Index]:
        """Best exchange of each dealing: score, new state, and the positions (B, 3) of both.

        Exchanges of one disc, and of whole packets between stacks, which leaves the variance
        as it is. Where fewer than three positions change, both sides name the same one.
        """
        n = len(self.places)
        every = np.arange(n)
        new = self.replaced(dealt)
        old = self.columns_at(dealt, every)
        stack = self.places.stack
        was = self.values[:, stack, old]
        gain = self.values[:, stack[:, None], new] - was[..., None]  # K, B, N, n
        a, b = self.first, self.second
        spare = dealt.shape[1] - n
        place = np.repeat(every, spare)
        position = np.tile(np.arange(n, n + spare), n)
        p, q = self.whole[:, 0], self.whole[:, 1]
        to_p = self.values[:, stack[p], old[:, q]] - was[..., p]
        to_q = self.values[:, stack[q], old[:, p]] - was[..., q]
        at = self.at_stack[:, None]
        options = np.concatenate(
            [
                at[..., a] * gain[:, None, :, a, b] + at[..., b] * gain[:, None, :, b, a],
                at[..., place] * gain[..., n:].reshape(len(gain), 1, len(dealt), len(place)),
                at[..., p] * to_p[:, None] + at[..., q] * to_q[:, None],
            ],
            axis=-1,
        )
        options += state[..., None]
        value = self.evaluate(options, score)
        best = value.argmin(1)
        rows = np.arange(len(dealt))
        left = np.concatenate([a, place, p])[best][:, None] + np.arange(3)
        right = np.concatenate([b, position, q])[best][:, None] + np.arange(3)
        size = np.concatenate([np.ones(len(a) + len(place), dtype=np.intp), self.whole[:, 2]])
        right = np.where(np.arange(3) < size[best][:, None], right, left[:, :1])
        left = np.where(np.arange(3) < size[best][:, None], left, left[:, :1])
        return value[rows, best], options[:, :, rows, best], left, right


def _whole_swaps(at: Places) -> Index:
    """First places of two packets of one size above 1 in different stacks, and the size."""
    first = np.unique(at.packet, return_index=True)[1]
    size = 1 + (at.mates[first] >= 0).sum(1)
    i, j = np.triu_indices(len(first), 1)
    good = (size[i] == size[j]) & (size[i] > 1) & (at.stack[first[i]] != at.stack[first[j]])
    return np.stack([first[i[good]], first[j[good]], size[i[good]]], axis=-1)
