"""The integer programme against every order there is."""

from itertools import product

import numpy as np
import pytest

from optimizer.orders.choose import TIE, Choice, Part, Ware, choose


def brute(parts, wares, sets, most_wares):
    best = None
    for split in product(*(range(sets[p.clutch] + 1) for p in parts)):
        built = [
            sum(n for n, p in zip(split, parts, strict=True) if p.clutch == c)
            for c in range(len(sets))
        ]
        if built != list(sets):
            continue
        need = np.zeros(len(wares))
        for n, p in zip(split, parts, strict=True):
            need[p.ware] += p.discs[n]
        used = {p.ware for n, p in zip(split, parts, strict=True) if n}
        if len(used) > most_wares or not np.isfinite(need).all():
            continue
        packs = [
            max(0, int(np.ceil((d - w.held) / w.pack))) for d, w in zip(need, wares, strict=True)
        ]
        cost = sum(k * w.cost for k, w in zip(packs, wares, strict=True)) + TIE * need.sum()
        if best is None or cost < best:
            best = cost
    return best


def random_case(seed):
    rng = np.random.default_rng(seed)
    clutches, wares = int(rng.integers(1, 3)), int(rng.integers(2, 4))
    sets = tuple(int(n) for n in rng.integers(1, 5, clutches))
    kinds = tuple(
        Ware(int(rng.choice([5, 10, 25])), float(rng.integers(3, 30)), int(rng.integers(0, 12)))
        for _ in range(wares)
    )
    parts = []
    for c in range(clutches):
        for w in rng.permutation(wares)[: int(rng.integers(1, wares + 1))]:
            each = rng.integers(15, 40)
            grows = np.cumsum(each + rng.integers(0, 12, sets[c]))
            discs = [0.0, *map(float, grows)]
            if rng.random() < 0.3:
                discs[-1] = np.inf
            parts.append(Part(c, int(w), tuple(discs)))
    return tuple(parts), kinds, sets, int(rng.integers(1, 3))


@pytest.mark.parametrize("seed", range(60))
def test_the_programme_equals_brute_force(seed):
    parts, wares, sets, most = random_case(seed)
    expected, found = brute(parts, wares, sets, most), choose(parts, wares, sets, most)
    if expected is None:
        assert found is None
        return
    need = np.zeros(len(wares))
    for n, p in zip(found.sets, parts, strict=True):
        need[p.ware] += p.discs[n]
    supply = [w.held + k * w.pack for k, w in zip(found.packs, wares, strict=True)]
    assert (need <= np.array(supply)).all()
    assert found.cost + TIE * need.sum() == pytest.approx(expected, abs=1e-4)


def test_the_rest_of_an_order_comes_in_a_small_pack():
    """110 discs: two packs of 50 at 19 and one of 10 at 6.5, not three packs of 50."""
    discs = tuple(11.0 * n for n in range(11))
    parts = (Part(0, 0, discs), Part(0, 1, discs))
    found = choose(parts, (Ware(50, 19.0), Ware(10, 6.5)), (10,))
    assert found == Choice((9, 1), (2, 2), 51.0) or found.cost == pytest.approx(51.0)


def test_a_part_that_can_never_do_is_not_chosen():
    parts = (Part(0, 0, (0.0, np.inf)), Part(0, 1, (0.0, 20.0)))
    assert choose(parts, (Ware(10, 1.0), Ware(10, 9.0)), (1,)) == Choice((0, 1), (0, 2), 18.0)
    assert choose(parts[:1], (Ware(10, 1.0),), (1,)) is None
