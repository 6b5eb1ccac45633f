"""Best-swap descent: many starts at once, the best exchange of two discs each step.

A start deals discs at random into the places of the subproblem. Every step tries all exchanges
of two placed discs and of a placed with a spare disc, on the packets' constants, and takes
the best; it ends where no exchange helps.
"""

from __future__ import annotations

from collections.abc import Callable
from itertools import permutations

import numpy as np

from optimizer.estimate.problem import Task
from optimizer.match.subproblem import Chosen, Subproblem
from optimizer.mechanics.disc import Array
from optimizer.mechanics.packet import Index

#: cost, in N^2, of a packet that has no column: never worth taking
FORBIDDEN = 1e12
MOST_STEPS = 400
#: part of a row's window that the search uses, leaving the rest to rounding
INSIDE = 0.9


class Descent:
    """The places and tables of a subproblem, ready for descents from any dealing of its discs.

    Its places, stack by stack, packet by packet: `stack` and `packet` (N) of each, `mates` (N, 2)
    those of the same packet beside it, -1 where there are fewer; `first` and `size` (P) are the
    first place of every packet and how many it has.
    """

    def __init__(self, task: Task, subproblem: Subproblem) -> None:
        """Tabulate constants, room and height of every column."""
        self.subproblem = subproblem
        self.usable = task.usable
        self._lay_out([(i, k) for i, p in enumerate(subproblem.patterns) for k in p.sizes])
        self.places = n = len(self.stack)
        self.columns = _columns(subproblem, len(task.belief))
        self.centred = np.array([row.centred for row in subproblem.rows])
        self.slack_n = np.array([INSIDE * row.window_n / 2 for row in subproblem.rows])
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
        self.at_stack = (np.arange(task.shoes)[:, None] == self.stack).astype(np.float64)
        left, right = np.triu_indices(n, 1)
        apart = self.packet[left] != self.packet[right]
        self.left, self.right = left[apart], right[apart]
        self.whole = self._whole_swaps()

    def _lay_out(self, packets: list[tuple[int, int]]) -> None:
        """Lay out the places of packets, each with its stack and its size."""
        stack, self.size = (np.array(each, dtype=np.intp) for each in zip(*packets, strict=True))
        self.first = np.cumsum(self.size) - self.size
        self.stack = np.repeat(stack, self.size)
        self.packet = np.repeat(np.arange(len(packets)), self.size)
        self.mates = np.array(
            [
                [*(first + k for k in range(size) if k != seat), -1, -1][:2]
                for first, size in zip(self.first.tolist(), self.size.tolist(), strict=True)
                for seat in range(size)
            ],
            dtype=np.intp,
        )

    def _whole_swaps(self) -> Index:
        """First places of two packets of one size above 1 in different stacks, and the size."""
        i, j = np.triu_indices(len(self.first), 1)
        stack = self.stack[self.first]
        good = (self.size[i] == self.size[j]) & (self.size[i] > 1) & (stack[i] != stack[j])
        i, j = i[good], j[good]
        return np.stack([self.first[i], self.first[j], self.size[i]], axis=-1)

    @property
    def options(self) -> int:
        """Exchanges of one disc that a step looks at."""
        return len(self.left) + self.places * (len(self.usable) - self.places)

    def deal(self, rng: np.random.Generator, starts: int) -> Index:
        """Deal the usable discs at random: (starts, n), the first N of each row are placed."""
        return rng.permuted(np.tile(self.usable, (starts, 1)), axis=1)

    def deal_like(self, rng: np.random.Generator, starts: int, share: Array) -> Index:
        """Deal as in `deal`, but with the packets that a relaxed answer takes `share` (M) of.

        Packets are drawn one by one in proportion to their share, as long as no disc of
        theirs is placed yet; what is then missing is dealt at random.
        """
        likely = np.flatnonzero(share > 1e-6)
        members = [row[row >= 0] for row in self.subproblem.columns.members[likely]]
        dealt = np.empty((starts, len(self.usable)), dtype=np.intp)
        for start in range(starts):
            row = np.full(len(self.usable), -1, dtype=np.intp)
            seats = {
                int(k): list(rng.permutation(self.first[self.size == k]))
                for k in np.unique(self.size)
            }
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
        self,
        dealt: Index,
        price: float,
        variance: float,
        over: Callable[[], bool],
        enough: float = -1.0,
    ) -> tuple[Index, Array]:
        """Descend from every dealing; return the dealings and their scores.

        Stops early when one start scores `enough` or less, or when `over()`.

        Parameters
        ----------
        price, variance : of one N^2 of misfit beyond the slack, and of one N^2 of variance
        """
        dealt = dealt.copy()
        state = self._state(dealt)
        value = self.evaluate(state, price, variance)
        active = np.arange(len(dealt))
        for _ in range(MOST_STEPS):
            if len(active) == 0 or value.min() <= enough or over():
                break
            best, take, left, right = self._best_exchange(
                dealt[active], state[..., active], price, variance
            )
            better = best < value[active] * (1 - 1e-9) - 1e-12
            rows = active[better]
            for a, b in zip(left[better].T, right[better].T, strict=True):
                dealt[rows, a], dealt[rows, b] = dealt[rows, b], dealt[rows, a]
            state[..., rows] = take[..., better]
            value[rows] = best[better]
            active = rows
        return dealt, value

    def evaluate(self, state: Array, price: float, variance: float) -> Array:
        """Score states (K, S, ...): squared misfit of each row beyond its slack, and variance."""
        rows = len(self.slack_n)
        total: Array = variance * state[rows].sum(0)
        for deviation, centred, slack in zip(state[:rows], self.centred, self.slack_n, strict=True):
            if centred:
                deviation = deviation - deviation.mean(0)
            total += price * (np.maximum(np.abs(deviation) - slack, 0.0) ** 2).sum(0)
        if self.height is not None:
            low, high = self.height
            mm = state[rows + 1]
            outside = np.maximum(mm - high, 0.0) + np.maximum(low - mm, 0.0)
            total += (self.mm_price * outside).sum(0) ** 2 * 10
        total += np.where(state[rows].max(0) >= FORBIDDEN / 2, FORBIDDEN, 0.0)
        return total

    def _state(self, dealt: Index) -> Array:
        """Sums over each stack of what its packets contribute, less the room: (K, S, B)."""
        column = self.columns_at(dealt, self.first)
        each = self.values[:, self.stack[self.first], column]  # K, B, packets
        total = np.einsum("kbp,sp->ksb", each, self.at_stack[:, self.first])
        state: Array = total - self.room[..., None]
        return state

    def columns_at(self, dealt: Index, place: Index) -> Index:
        """Column of the packet at each of some places: (B, len(place))."""
        return self._with(dealt, place, dealt[:, place])

    def chosen(self, dealt: Index) -> Chosen | None:
        """Columns of each stack of a dealing (n); None where a packet has no column."""
        column, stack = self.columns_at(dealt[None], self.first)[0], self.stack[self.first]
        if column.max() == len(self.subproblem.cost):
            return None
        return tuple(column[stack == i] for i in range(len(self.subproblem.patterns)))

    def _with(self, dealt: Index, place: Index, disc: Index) -> Index:
        """Column of the packet at places (P) if its own disc were `disc` (B, P, ...)."""
        column = np.empty(disc.shape, dtype=np.intp)
        mates, size = self.mates[place], self.size[self.packet[place]]
        shape = (len(dealt), -1) + (1,) * (disc.ndim - 2)
        for k in np.unique(size):
            rows = np.flatnonzero(size == k)
            others = [dealt[:, mates[rows, j]].reshape(shape) for j in range(k - 1)]
            column[:, rows] = self.columns[int(k)][(disc[:, rows], *others)]
        return column

    def _best_exchange(
        self, dealt: Index, state: Array, price: float, variance: float
    ) -> tuple[Array, Array, Index, Index]:
        """Best exchange of each dealing: score, new state, and the positions (B, 3) of both.

        Exchanges of one disc, and of whole packets between stacks, which leaves the variance
        as it is. Where fewer than three positions change, both sides name the same one.
        """
        n, stack = self.places, self.stack
        every = np.arange(n)
        # column (B, N, n) of the packet at each place if it took the disc at each position
        new = self._with(dealt, every, np.repeat(dealt[:, None], n, axis=1))
        old = self.columns_at(dealt, every)
        was = self.values[:, stack, old]
        gain = self.values[:, stack[:, None], new] - was[..., None]  # K, B, N, n
        a, b = self.left, self.right
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
        value = self.evaluate(options, price, variance)
        best = value.argmin(1)
        rows = np.arange(len(dealt))
        left = np.concatenate([a, place, p])[best][:, None] + np.arange(3)
        right = np.concatenate([b, position, q])[best][:, None] + np.arange(3)
        size = np.concatenate([np.ones(len(a) + len(place), dtype=np.intp), self.whole[:, 2]])
        right = np.where(np.arange(3) < size[best][:, None], right, left[:, :1])
        left = np.where(np.arange(3) < size[best][:, None], left, left[:, :1])
        return value[rows, best], options[:, :, rows, best], left, right


def _columns(subproblem: Subproblem, discs: int) -> dict[int, Index]:
    """Column of the packet of some of so many discs, in any order, by its size; M where none."""
    members, size = subproblem.columns.members, subproblem.columns.size
    found = {}
    for k in np.unique(size).tolist():
        rows = np.flatnonzero(size == k)
        table = np.full((discs,) * k, len(members), dtype=np.int32)
        for order in permutations(range(k)):
            table[tuple(members[rows, seat] for seat in order)] = rows
        found[k] = table
    return found
