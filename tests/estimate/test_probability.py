import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.stats import multivariate_normal, norm

from optimizer.estimate.probability import SEARCHED, mean_within, spread_within

WIDTH = 9.0


def some_cases(count: int, stacks: int, seed: int) -> tuple[np.ndarray, np.ndarray]:
    """Means within some widths, full covariances from nearly nothing to several widths."""
    rng = np.random.default_rng(seed)
    mean = rng.normal(0, 4, (count, stacks))
    root = rng.normal(size=(count, stacks, stacks)) * 10 ** rng.uniform(-1, 1, (count, 1, 1))
    return mean, root @ root.swapaxes(-1, -2)


def independent(mean, sd, width):
    """Sum over k of P(load k is the least and the others lie within the width above it)."""

    def density(x, k):
        others = [i for i in range(len(mean)) if i != k]
        above = norm.cdf(x + width, mean[others], sd[others])
        return norm.pdf(x, mean[k], sd[k]) * np.prod(above - norm.cdf(x, mean[others], sd[others]))

    return sum(
        quad(density, mean[k] - 9 * sd[k], mean[k] + 9 * sd[k], (k,), limit=300)[0]
        for k in range(len(mean))
    )


@pytest.mark.parametrize("stacks", [2, 3, 4, 6])
def test_independent_loads_agree_with_adaptive_quadrature(stacks):
    rng = np.random.default_rng(stacks)
    for _ in range(4):
        mean, sd = rng.normal(0, 3, stacks), 10 ** rng.uniform(-0.5, 0.8, stacks)
        ours = spread_within(mean, np.diag(sd**2), WIDTH)
        exact = independent(mean, sd, WIDTH)
        assert ours == pytest.approx(exact, abs=1e-9 if stacks <= 3 else 2e-3)


@pytest.mark.parametrize("vague", [0, 1, 2])
def test_one_load_hardly_known_among_two_well_known_is_as_exact(vague):
    """Of two differences from the vague one, either tells the other nearly for certain."""
    sd = np.full(3, 0.03)
    sd[vague] = 6.0
    for mean in (np.array([0.4, -1.0, 2.0]), np.array([-3.0, 1.5, 0.0])):
        ours = spread_within(mean, np.diag(sd**2), WIDTH)
        assert ours == pytest.approx(two_known(mean, sd, vague, WIDTH), abs=1e-9)


def two_known(mean, sd, vague, width):
    """The vague one within a width of both others, which lie apart: Gauss-Hermite on those."""
    a, b = (k for k in range(3) if k != vague)
    nodes, weights = np.polynomial.hermite_e.hermegauss(80)
    x, y = mean[a] + sd[a] * nodes[:, None], mean[b] + sd[b] * nodes
    low, high = np.maximum(x, y) - width, np.minimum(x, y) + width
    inside = norm.cdf(high, mean[vague], sd[vague]) - norm.cdf(low, mean[vague], sd[vague])
    return float(weights @ inside @ weights) / (2 * np.pi)


def test_any_covariance_agrees_with_rectangles_of_a_multivariate_normal():
    mean, cover = some_cases(10, 3, 1)
    for m, c in zip(mean, cover, strict=True):
        total = 0.0
        for k in range(3):
            above = np.delete(np.eye(3), k, axis=0)
            above[:, k] = -1.0
            total += multivariate_normal.cdf(
                [WIDTH, WIDTH], above @ m, above @ c @ above.T, lower_limit=[0.0, 0.0]
            )
        assert spread_within(m, c, WIDTH) == pytest.approx(total, abs=2e-4)


@pytest.mark.parametrize("stacks", [3, 5])
def test_any_covariance_agrees_with_drawn_loads(stacks):
    mean, cover = some_cases(4, stacks, 7)
    rng = np.random.default_rng(0)
    for m, c in zip(mean, cover, strict=True):
        drawn = rng.multivariate_normal(m, c, 100_000)
        close = (np.ptp(drawn, axis=1) <= WIDTH).mean()
        assert spread_within(m, c, WIDTH) == pytest.approx(close, abs=0.006)
        middle = (np.abs(drawn.mean(1)) <= WIDTH).mean()
        assert mean_within(m, c, WIDTH) == pytest.approx(middle, abs=0.006)


@pytest.mark.parametrize("stacks", [2, 3, 4])
def test_many_at_once_are_the_same_as_one_by_one(stacks):
    mean, cover = some_cases(12, stacks, 3)
    for function in (spread_within, mean_within):
        together = function(mean.reshape(3, 4, -1), cover.reshape(3, 4, stacks, stacks), WIDTH)
        single = [function(m, c, WIDTH) for m, c in zip(mean, cover, strict=True)]
        np.testing.assert_allclose(together.ravel(), single, rtol=1e-12, atol=1e-14)


@pytest.mark.parametrize(("stacks", "within"), [(3, 1e-3), (4, 4e-3), (6, 1e-2)])
def test_few_points_suffice_in_a_search_over_independent_loads(stacks, within):
    rng = np.random.default_rng(5)
    mean = rng.normal(0, 4, (500, stacks))
    cover = (10 ** rng.uniform(-1, 1.2, (500, stacks)))[..., None] ** 2 * np.eye(stacks)
    few = spread_within(mean, cover, WIDTH, SEARCHED)
    np.testing.assert_allclose(few, spread_within(mean, cover, WIDTH), atol=within)


@pytest.mark.parametrize("vague", [0, 2, 5])
def test_which_of_six_loads_is_hardly_known_does_not_matter(vague):
    sd = np.full(6, 0.5)
    sd[vague] = 6.0
    mean = np.zeros(6)
    ours = spread_within(mean, np.diag(sd**2), WIDTH)
    assert ours == pytest.approx(independent(mean, sd, WIDTH), abs=2e-4)


@given(
    st.lists(st.floats(-10, 10), min_size=3, max_size=3),
    st.lists(st.floats(0.05, 20), min_size=3, max_size=3),
    st.floats(0, 1000),
    st.floats(1, 20),
)
def test_what_is_common_cancels_order_is_free_and_width_helps(mean, sd, common, width):
    mean, cover = np.array(mean), np.diag(np.array(sd) ** 2)
    chance = spread_within(mean, cover, width)
    assert 0 <= chance <= 1
    assert spread_within(mean + 100, cover + common, width) == pytest.approx(chance, abs=1e-7)
    turned = [2, 0, 1]
    assert spread_within(mean[turned], cover[np.ix_(turned, turned)], width) == pytest.approx(
        chance, abs=1e-9
    )
    assert spread_within(mean, cover, 1.1 * width) >= chance - 1e-12


def test_without_doubt_the_chances_are_whether_it_is_so():
    nothing = np.zeros((3, 3))
    assert spread_within(np.array([0.0, 3.0, 8.9]), nothing, WIDTH) == pytest.approx(1.0)
    assert spread_within(np.array([0.0, 3.0, 9.1]), nothing, WIDTH) == pytest.approx(0.0)
    assert mean_within(np.array([8.0, 8.5, 8.9]), nothing, WIDTH) == 1.0


@pytest.mark.parametrize("width", [0.01, WIDTH])
def test_loads_known_for_sure_are_judged_to_a_ten_thousandth_of_the_width(width):
    nothing = np.zeros((3, 3))
    for share, chance in ((0.9999, 1.0), (1.0001, 0.0)):
        mean = width * np.array([0.0, 0.4, share])
        assert spread_within(mean, nothing, width) == pytest.approx(chance)


def test_far_apart_loads_have_small_chances_not_negative_ones():
    chance = spread_within(np.array([0.0, 60.0, 130.0]), 25 * np.eye(3), WIDTH)
    assert 0 <= chance < 1e-12
