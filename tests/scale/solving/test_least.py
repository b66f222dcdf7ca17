"""The least squares of the camera's fit, beside SciPy's; sums over groups beside its sparse matrices."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import least_squares as by_scipy
from scipy.sparse import csr_array
from scipy.special import ndtr

from salvage.scale.seeing.light import _below
from salvage.scale.solving.bundle import differences
from salvage.scale.solving.camera import project, unproject
from salvage.scale.solving.least import least_squares
from salvage.scale.solving.sums import Groups, Sparse

CAMERA = np.array([7.5, 0.1, -0.06, 8.0, 2010.0, 1490.0, 0.02, -0.01])
PLACES = np.linspace(0.0, 3.0, 40)


def decaying(x: np.ndarray) -> np.ndarray:
    return np.asarray(x[0] * np.exp(-x[1] * PLACES) + x[2])


def slopes(x: np.ndarray) -> np.ndarray:
    falling = np.exp(-x[1] * PLACES)
    return np.column_stack([falling, -x[0] * PLACES * falling, np.ones(len(PLACES))])


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("outlier", [None, 1.0])
def test_finds_what_scipy_finds(seed: int, outlier: float | None) -> None:
    rng = np.random.default_rng(seed)
    seen = decaying(np.array([4.0, 1.3, 0.5])) + rng.normal(scale=0.05, size=len(PLACES))
    seen[rng.integers(0, len(PLACES), 4)] += 3.0
    ours = least_squares(
        lambda x: (decaying(x) - seen) / 0.05, lambda x: slopes(x) / 0.05, np.array([1.0, 0.3, 0.0]),
        outlier=outlier, cost_rule=1e-10,
    )  # fmt: skip
    theirs = by_scipy(
        lambda x: (decaying(x) - seen) / 0.05, np.array([1.0, 0.3, 0.0]), jac=lambda x: slopes(x) / 0.05, x_scale="jac",
        loss="linear" if outlier is None else "soft_l1", f_scale=outlier or 1.0, ftol=1e-10, xtol=1e-12,
    )  # fmt: skip
    assert ours.cost == pytest.approx(theirs.cost, rel=1e-6)
    assert ours.x == pytest.approx(theirs.x, rel=1e-3, abs=1e-3)


def test_outliers_pull_less_where_they_count_less() -> None:
    seen = np.array([1.0, 1.1, 0.9, 1.0, 50.0])
    ones = np.ones((5, 1))

    def mean(outlier: float | None) -> float:
        return float(least_squares(lambda x: x - seen, lambda _: ones, np.zeros(1), outlier=outlier).x[0])

    assert mean(None) == pytest.approx(seen.mean())
    assert mean(0.1) == pytest.approx(1.0, abs=0.1)


def test_a_narrow_bent_valley_is_followed() -> None:
    """Rosenbrock's function (1960), least at (1, 1)."""
    found = least_squares(
        lambda x: np.array([10.0 * (x[1] - x[0] ** 2), 1.0 - x[0]]),
        lambda x: np.array([[-20.0 * x[0], 10.0], [-1.0, 0.0]]),
        np.array([-1.2, 1.0]),
        cost_rule=1e-12,
    )
    assert found.x == pytest.approx([1.0, 1.0], abs=1e-4)


def test_a_first_guess_that_gives_no_numbers_is_refused() -> None:
    with pytest.raises(ValueError, match="first guess"):
        least_squares(lambda x: x * np.nan, lambda _: np.eye(2), np.ones(2))


def test_a_step_to_where_nothing_is_seen_is_taken_back() -> None:
    """The logarithm has no value below 0, where the first step of a plain Newton's method goes."""
    found = least_squares(
        lambda x: np.log(np.where(x > 0, x, np.nan)), lambda x: np.diag(1.0 / x), np.array([9.0])
    )
    assert found.x == pytest.approx([1.0], abs=1e-3)


def test_many_cameras_at_once_see_what_each_sees() -> None:
    rng = np.random.default_rng(1)
    cameras = CAMERA + rng.normal(scale=1e-3, size=(5, 8))
    points = np.column_stack([rng.uniform(-600, 600, (30, 2)), rng.uniform(0, 5, 30)])
    seen = project(cameras, points)
    back = unproject(cameras, seen, points[:, 2])
    for k, camera in enumerate(cameras):
        assert seen[k] == pytest.approx(project(camera, points), abs=1e-9)
        assert back[k] == pytest.approx(points[:, :2], abs=1e-3)


def test_differences_are_slopes() -> None:
    class Plain:
        """Residuals that are linear in all unknowns."""

        by_camera, by_own = np.random.default_rng(2).normal(size=(2, 6, 8))

        def residuals(self, camera: np.ndarray, own: np.ndarray) -> np.ndarray:
            return np.asarray(camera @ self.by_camera.T + own @ self.by_own[:, :3].T)

    plain = Plain()
    found = differences(plain, CAMERA, np.ones(3), 1e-3 * np.eye(3))
    assert found == pytest.approx(np.hstack([plain.by_camera, plain.by_own[:, :3]]), abs=1e-5)


@pytest.mark.parametrize("seed", range(4))
def test_sparse_matrix_as_scipys(seed: int) -> None:
    rng = np.random.default_rng(seed)
    dense = rng.normal(size=(7, 11)) * (rng.random((7, 11)) < 0.4)
    dense[:, 0] = dense[2] = 1.0  # none of its rows and columns may be empty
    row, column = np.nonzero(dense)
    order = rng.permutation(len(row))
    ours = Sparse.of(dense[row, column][order], row[order], column[order])
    theirs, right, left = csr_array(dense), rng.normal(size=(3, 11)), rng.normal(size=(3, 7))
    assert ours.times(right) == pytest.approx((theirs @ right.T).T)
    assert ours.back(left) == pytest.approx((theirs.T @ left.T).T)
    assert ours.times(right[0]) == pytest.approx(theirs @ right[0])


def test_sums_of_groups() -> None:
    groups = Groups.of(np.array([1, 0, 1, 2, 0]))
    assert groups.sums(np.array([1.0, 2.0, 3.0, 4.0, 5.0])).tolist() == [7.0, 4.0, 4.0]


def test_share_below_as_scipys() -> None:
    sds = np.linspace(-6.0, 6.0, 49).reshape(7, 7)
    assert _below(sds) == pytest.approx(ndtr(sds), rel=1e-12)
