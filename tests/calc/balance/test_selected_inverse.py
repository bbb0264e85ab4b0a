"""Selected inverse against the full one."""

import numpy as np
import pytest
from scipy.sparse import csc_array, random_array
from scipy.sparse.linalg import splu

from recycling.calc.balance.selected_inverse import selected_inverse

SYMMETRIC = {
    "permc_spec": "MMD_AT_PLUS_A",
    "diag_pivot_thresh": 0.0,
    "options": {"SymmetricMode": True},
}


@pytest.mark.parametrize("seed", range(8))
@pytest.mark.parametrize("density", [0.0, 0.01, 0.05, 0.4])
def test_entries_equal_those_of_the_full_inverse(seed, density):
    """Independent: numpy.linalg.inv."""
    half = random_array((90, 90), density=density, rng=seed)
    matrix = csc_array(half @ half.T + csc_array(np.eye(90)))
    full = np.linalg.inv(matrix.toarray())
    diagonal, at = selected_inverse(splu(matrix, **SYMMETRIC))
    assert diagonal == pytest.approx(np.diag(full), rel=1e-9)
    a, b = (matrix - csc_array(np.diag(matrix.diagonal()))).nonzero()
    assert at(a, b) == pytest.approx(full[a, b], rel=1e-8, abs=1e-12)


def test_entries_survive_values_that_cancel():
    """Filling in that cancels to exactly zero, 1 - 2·2/4 between the last two, is left out of L."""
    matrix = np.array([[4.0, 2, 2], [2, 4, 1], [2, 1, 4]])
    factors = splu(csc_array(matrix), **(SYMMETRIC | {"permc_spec": "NATURAL"}))
    assert factors.L.nnz == 5
    diagonal, at = selected_inverse(factors)
    full = np.linalg.inv(matrix)
    assert diagonal == pytest.approx(np.diag(full))
    assert at(np.array([0, 1]), np.array([1, 2])) == pytest.approx([full[0, 1], full[1, 2]])


def test_matrix_that_is_not_positive_definite_is_refused():
    matrix = csc_array(np.array([[0.0, 1.0], [1.0, 0.0]]))
    with pytest.raises(ValueError, match="not positive definite"):
        selected_inverse(splu(matrix, permc_spec="NATURAL"))
