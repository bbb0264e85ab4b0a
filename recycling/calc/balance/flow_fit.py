"""Best estimates of flows that balances over-determine, by weighted least squares."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import nan
from typing import Any

import numpy as np

from recycling.calc.balance.flow_network import (
    FlowNetwork,
    completed,
    contracted,
    forest,
    whole_flows,
)
from recycling.calc.guards import share


@dataclass(frozen=True, eq=False)
class Fit:
    """Reconciled flows and the global test.

    network: the flows' ends. measured_mg, u_mg: as given, NaN where unmeasured. used: whether the
    weighing took part. reconciled_mg: best estimates; whole_mg: the same in whole milligrams, each
    balance exactly zero. gamma, dof: test statistic and its degrees of freedom.
    """

    network: FlowNetwork
    measured_mg: np.ndarray
    u_mg: np.ndarray
    used: np.ndarray
    reconciled_mg: np.ndarray
    whole_mg: np.ndarray
    gamma: float
    dof: int

    @property
    def p_value(self) -> float:
        """Chance of a gamma at least as large from weighing alone; NaN without redundancy."""
        from scipy.stats import chi2

        return float(chi2.sf(self.gamma, self.dof)) if self.dof else nan

    def limit(self, level: float = 0.05) -> float:
        """Chi-squared limit of the global test at a level between 0 and 1; NaN without dof."""
        from scipy.stats import chi2

        return float(chi2.isf(share("level", level), self.dof)) if self.dof else nan

    def passes(self, level: float = 0.05) -> bool | None:
        """Whether weighing alone explains the imbalances; None when nothing can be tested."""
        return self.gamma <= self.limit(level) if self.dof else None


@dataclass(frozen=True, eq=False)
class Equations:
    """Factored balances: variances, ends as equations, factors of A Sigma A', its solution."""

    variance: np.ndarray
    tail: np.ndarray
    head: np.ndarray
    factors: Any
    solution: np.ndarray

    def across(self, potential: np.ndarray) -> np.ndarray:
        """A' times a vector over the equations: the difference between both ends of each flow."""
        padded = np.append(potential, 0.0)
        return padded[self.head] - padded[self.tail]

    def gain_of(self, flows: np.ndarray) -> np.ndarray:
        """A times a vector over the flows: what each equation gains."""
        size = len(self.solution) + 1
        gain = np.bincount(self.head + 1, flows, size) - np.bincount(self.tail + 1, flows, size)
        return gain[1:]

    def solve(self, flow: int) -> np.ndarray:
        """(A Sigma A')^-1 times the column of one flow."""
        column = np.zeros(len(self.solution) + 1)
        column[self.head[flow]] += 1
        column[self.tail[flow]] -= 1
        return self.factors.solve(column[:-1])


def fit_flows(
    network: FlowNetwork,
    measured_mg: Sequence[float] | np.ndarray,
    u_mg: Sequence[float] | np.ndarray,
) -> Fit:
    """Weighted least squares under the balances, with the global test.

    x = y - S A' (A S A')^-1 A y with S the variances, gamma = r' (A S A')^-1 r with r = A y, which
    follows chi-squared with as many degrees of freedom as independent balances. Unmeasured flows
    are computed from the others.

    Parameters
    ----------
    network : the flows.
    measured_mg : net mass of each flow, mg; NaN where it was not weighed.
    u_mg : its standard uncertainty, mg; not looked at where it was not weighed.

    Returns
    -------
    Fit
        Reconciled flows in mg, also in whole milligrams that balance exactly; gamma and dof. Zero
        degrees of freedom say that nothing is measured twice and nothing can be tested.

    Raises
    ------
    ValueError
        If the lists differ in length, a mass is infinite, an uncertainty is not above zero, or
        unmeasured flows cannot be computed; each flow is named.

    Examples
    --------
    >>> from recycling.calc.balance.flow_network import flow_network
    >>> fit = fit_flows(flow_network([-1, 0], [0, -1]), [1010.0, 990.0], [10.0, 10.0])
    >>> fit.whole_mg.tolist(), round(fit.gamma, 6), fit.dof
    ([1000, 1000], 2.0, 1)

    References
    ----------
    .. [1] S. Narasimhan and C. Jordache (2000), Data Reconciliation and Gross Error
       Detection, ch. 3, 7.
    """
    measured, u = checked_weighings(network, measured_mg, u_mg)
    return fit_used(network, measured, u, np.isfinite(measured))[0]


def checked_weighings(
    network: FlowNetwork,
    measured_mg: Sequence[float] | np.ndarray,
    u_mg: Sequence[float] | np.ndarray,
) -> tuple[np.ndarray, np.ndarray]:
    """Masses and uncertainties of all flows as arrays, mg; ValueError as `fit_flows` says.

    Examples
    --------
    >>> from recycling.calc.balance.flow_network import flow_network
    >>> checked_weighings(flow_network([-1], [0]), [5], [1])[0].tolist()
    [5.0]
    """
    measured = np.asarray(measured_mg, dtype=np.float64)
    u = np.asarray(u_mg, dtype=np.float64)
    if not measured.shape == u.shape == network.source.shape:
        raise ValueError(
            f"{len(network.source)} flows, {measured.size} masses and {u.size} uncertainties"
        )
    if np.isinf(measured).any():
        raise ValueError(f"the mass of flow {np.flatnonzero(np.isinf(measured))[0]} is infinite")
    bad = np.flatnonzero(~np.isnan(measured) & ~(np.isfinite(u) & (u > 0)))
    if bad.size:
        raise ValueError(f"the uncertainty of flow {bad[0]} must be above zero, not {u[bad[0]]} mg")
    return measured, u


def fit_used(
    network: FlowNetwork, measured: np.ndarray, u: np.ndarray, used: np.ndarray
) -> tuple[Fit, Equations | None]:
    """Fit to the weighings that are used, mg; with the factored equations, None without any.

    Examples
    --------
    >>> from recycling.calc.balance.flow_network import flow_network
    >>> both = np.array([True, True])
    >>> fit_used(flow_network([-1, 0], [0, -1]), np.array([4.0, 6.0]), both * 1.0, both)[0].dof
    1
    """
    joined = contracted(network, used)
    flows = np.where(used, measured, 0.0)
    equations, gamma = None, 0.0
    if joined.equations:
        equations = _factored(joined, np.where(used, u, 0.0) ** 2, flows)
        gain = equations.across(equations.solution)
        gamma = float(flows @ gain)
        flows = flows - equations.variance * gain
    if not used.all():
        walk = forest(network, np.flatnonzero(~used))
        flows = completed(network, flows, *walk)
    whole_mg = whole_flows(network, flows)
    return Fit(network, measured, u, used, flows, whole_mg, gamma, joined.equations), equations


def _factored(joined, variance, flows) -> Equations:
    from scipy.sparse import csc_array
    from scipy.sparse.linalg import splu

    size, tail, head = joined.equations, joined.tail, joined.head
    at_tail, at_head = variance * (tail != head), flows * (tail != head)
    diagonal = np.bincount(tail + 1, at_tail, size + 1) + np.bincount(head + 1, at_tail, size + 1)
    excess = np.bincount(head + 1, at_head, size + 1) - np.bincount(tail + 1, at_head, size + 1)
    between = (tail >= 0) & (head >= 0) & (tail != head) & (variance > 0)
    a, b, v = tail[between], head[between], variance[between]
    every = np.arange(size)
    matrix = csc_array(
        (
            np.concatenate((diagonal[1:], -v, -v)),
            (np.concatenate((every, a, b)), np.concatenate((every, b, a))),
        ),
        shape=(size, size),
    )
    factors = splu(
        matrix,
        permc_spec="MMD_AT_PLUS_A",
        diag_pivot_thresh=0.0,
        options={"SymmetricMode": True},
    )
    return Equations(variance, tail, head, factors, factors.solve(excess[1:]))
