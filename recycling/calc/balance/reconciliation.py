"""Best estimates of flows that balances over-determine, and which weighing does not fit.

Flows run from one balance to another, or over the border of what is balanced. The weighings stay
as entered: reconciled figures stand beside them.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import nan

import numpy as np

from recycling.calc.balance.flow_fit import Equations, Fit, checked_weighings, fit_used
from recycling.calc.balance.flow_network import FlowNetwork, forest
from recycling.calc.balance.selected_inverse import selected_inverse
from recycling.calc.guards import share

TESTABLE = 1e-7
"""Least share of a weighing's variance that balances must check for it to be tested."""
TIED = 1e-6
"""Statistics this close, relative, are equal."""
MOST_SOLVED = 500
"""Computed flows of which the uncertainty is worked out in full; each takes a solution."""


@dataclass(frozen=True)
class SetAside:
    """A weighing that was set aside, and those that cannot be told apart from it.

    flow: the one set aside. tied: all with an equal z, itself first. z: its test statistic.
    z_limit: the Šidák limit then. gamma, dof: the global test that still rejected.
    """

    flow: int
    tied: tuple[int, ...]
    z: float
    z_limit: float
    gamma: float
    dof: int


@dataclass(frozen=True, eq=False)
class Reconciliation:
    """What a reconciliation found.

    first: the fit to all weighings, with z (NaN where a weighing cannot be tested) and z_limit.
    final: the fit without those set aside, with final_z, final_z_limit and u_reconciled_mg, the
    standard uncertainty of each reconciled flow. suspects: weighings set aside, in order.
    has_ended: whether the global test no longer rejects; False when it still does at the most that
    may be set aside.
    """

    first: Fit
    z: np.ndarray
    z_limit: float
    final: Fit
    final_z: np.ndarray
    final_z_limit: float
    u_reconciled_mg: np.ndarray
    suspects: tuple[SetAside, ...]
    has_ended: bool

    @property
    def flagged(self) -> tuple[int, ...]:
        """Flows that still exceed the limit, worst first: one slip hides in a large global test."""
        over = np.flatnonzero(self.final_z > self.final_z_limit)
        return tuple(over[np.argsort(-self.final_z[over], kind="stable")].tolist())


def sidak_limit(tests: int, level: float = 0.05) -> float:
    """Two-sided limit for the largest of several normal test statistics.

    z = Phi^-1(1 - b/2) with b = 1 - (1 - level)^(1/tests).

    Parameters
    ----------
    tests : how many statistics are looked at, at least one.
    level : chance that the largest exceeds the limit by weighing alone, between 0 and 1.

    Returns
    -------
    float
        Limit of |z|, without unit.

    Raises
    ------
    ValueError
        If there is no test or the level is not a share.

    Examples
    --------
    >>> round(sidak_limit(6), 6)
    2.631038

    References
    ----------
    .. [1] Z. Šidák (1967), J. Am. Stat. Assoc. 62, 626.
    .. [2] S. Narasimhan and C. Jordache (2000), Data Reconciliation and Gross Error
       Detection, ch. 7.
    """
    from scipy.stats import norm

    if tests < 1:
        raise ValueError("a limit needs at least one test")
    share("level", level)
    return float(norm.isf(-np.expm1(np.log1p(-level) / tests) / 2))


def _redundancy(equations: Equations) -> np.ndarray:
    """Diagonal of A' (A Sigma A')^-1 A, one entry a flow, 1/mg²."""
    diagonal, at = selected_inverse(equations.factors)
    tail, head = equations.tail, equations.head
    padded = np.append(diagonal, 0.0)
    entries = padded[tail] + padded[head]
    between = (tail >= 0) & (head >= 0) & (tail != head) & (equations.variance > 0)
    entries[between] -= 2 * at(tail[between], head[between])
    entries[tail == head] = 0.0
    return entries


def _z(gain, redundancy, variance, is_open) -> np.ndarray:
    tested = is_open & (variance * redundancy > TESTABLE)
    return np.where(tested, np.abs(gain) / np.sqrt(np.where(tested, redundancy, 1.0)), nan)


def reconcile(
    network: FlowNetwork,
    measured_mg: Sequence[float],
    u_mg: Sequence[float],
    *,
    level: float = 0.05,
    most_set_aside: int = 100,
) -> Reconciliation:
    """Reconcile flows, and set the worst weighing aside while the global test rejects.

    The measurement test of a flow is z = |d| / u(d) with d its adjustment. Setting flow k aside
    takes z_k² off gamma and one off the degrees of freedom. Flows with equal z cannot be told
    apart and are named together; the first of them is set aside.

    Parameters
    ----------
    network, measured_mg, u_mg : as for `fit_flows`.
    level : chance that a test rejects by weighing alone.
    most_set_aside : how many weighings may be set aside.

    Returns
    -------
    Reconciliation
        First and final fit, test statistics, suspects in order, uncertainty of each flow.

    Raises
    ------
    ValueError
        As `fit_flows`; or if the level is not a share.

    Examples
    --------
    >>> from recycling.calc.balance.flow_network import flow_network
    >>> bypass = flow_network([-1, 0, 0, 1, 2, 3], [0, 1, 2, 3, 3, -1])
    >>> found = reconcile(bypass, [101.91, 68.45, 34.65, 64.2, 36.44, 98.88], [1] * 6)
    >>> [(suspect.flow, round(suspect.z, 3)) for suspect in found.suspects]
    [(1, 3.205)]

    References
    ----------
    .. [1] S. Narasimhan and C. Jordache (2000), Data Reconciliation and Gross Error
       Detection, ch. 7, 8.
    """
    share("level", level)
    measured, u = checked_weighings(network, measured_mg, u_mg)
    first, equations = fit_used(network, measured, u, np.isfinite(measured))
    redundancy, z, z_limit = _tests(first, equations, level)
    suspects = _worst_first(first, equations, redundancy.copy(), level, most_set_aside)
    final, tests = first, (z, z_limit)
    if suspects:
        used = first.used.copy()
        used[[suspect.flow for suspect in suspects]] = False
        final, equations = fit_used(network, measured, u, used)
        redundancy, z_of_final, limit = _tests(final, equations, level)
        tests = (z_of_final, limit)
    spread = _uncertainties(final, equations, redundancy)
    has_ended = final.passes(level) is not False
    return Reconciliation(first, z, z_limit, final, *tests, spread, suspects, has_ended)


def _tests(
    fit: Fit, equations: Equations | None, level: float
) -> tuple[np.ndarray, np.ndarray, float]:
    """Redundancy of each flow, its z, and the limit of z."""
    if equations is None:
        return np.zeros(len(fit.used)), np.full(len(fit.used), nan), nan
    redundancy = _redundancy(equations)
    gain = equations.across(equations.solution)
    z = _z(gain, redundancy, equations.variance, fit.used)
    tests = int(np.isfinite(z).sum())
    return redundancy, z, sidak_limit(tests, level) if tests else nan


def _worst_first(fit, equations, redundancy, level, most) -> tuple[SetAside, ...]:
    if equations is None:
        return ()
    gain = equations.across(equations.solution)
    gamma, dof, is_open = fit.gamma, fit.dof, fit.used.copy()
    found: list[SetAside] = []
    removed: list[tuple[np.ndarray, float]] = []
    limits = _limits(dof, level, most)
    while dof and len(found) < most and gamma > limits[len(found)]:
        z = _z(gain, redundancy, equations.variance, is_open)
        flow = int(np.nanargmax(z))
        tied = np.flatnonzero(z >= z[flow] * (1 - TIED))
        limit = sidak_limit(int(np.isfinite(z).sum()), level)
        names = (flow, *(int(other) for other in tied if other != flow))
        found.append(SetAside(flow, names, float(z[flow]), limit, gamma, dof))
        column = equations.solve(flow)
        for earlier, size in removed:
            column -= earlier * (equations.across(earlier)[flow] / size)
        size, pull = redundancy[flow], gain[flow]
        removed.append((column, size))
        along = equations.across(column)
        redundancy -= along**2 / size
        gain = gain - along * (pull / size)
        gamma, dof = gamma - pull**2 / size, dof - 1
        is_open[flow] = False
    return tuple(found)


def _limits(dof: int, level: float, most: int) -> np.ndarray:
    from scipy.stats import chi2

    return chi2.isf(level, np.arange(dof, max(dof - most, 0) - 1, -1))


def _uncertainties(fit: Fit, equations: Equations | None, redundancy) -> np.ndarray:
    """u² = v (1 - v q) of weighed flows; of others that of the sum that they are computed from.

    Of more than MOST_SOLVED sums the rest get the uncertainty of the weighings alone: no less.
    """
    variance = np.where(fit.used, fit.u_mg, 0.0) ** 2
    spread = np.sqrt(variance * np.clip(1 - variance * redundancy, 0.0, 1.0))
    if fit.used.all():
        return spread
    order, parent, by = forest(fit.network, np.flatnonzero(~fit.used), deep=True)
    place = np.argsort(order)
    beyond = place + _sizes(order, parent)
    crossing = _Crossings(place, fit.network, fit.used)
    solved = 0
    for node in np.flatnonzero(by >= 0).tolist():
        flows, signs = crossing.of(place[node], beyond[node])
        if len(flows) == 1:  # it is that flow itself: a lot that was taken whole
            spread[by[node]] = spread[flows[0]]
            continue
        solved += 1
        if equations is None or solved > MOST_SOLVED:
            spread[by[node]] = np.sqrt((signs**2 * variance[flows]).sum())
            continue
        every = np.zeros(len(variance))
        every[flows] = signs
        spread[by[node]] = np.sqrt(_variance_of(every, variance, equations))
    return spread


class _Crossings:
    """Weighed flows over the edge of a part of a walk, by the places at which they end."""

    def __init__(self, place: np.ndarray, network: FlowNetwork, used: np.ndarray) -> None:
        tail, head = (place[end] for end in network.ends)
        ends, flows = np.concatenate((head, tail)), np.tile(np.arange(len(head)), 2)
        kept = np.tile(used, 2)
        order = np.argsort(ends[kept], kind="stable")
        signs = np.repeat((1.0, -1.0), len(head))
        self.flows, self.signs = flows[kept][order], signs[kept][order]
        self.starts = np.searchsorted(ends[kept][order], np.arange(len(place) + 1))

    def of(self, start: int, end: int) -> tuple[np.ndarray, np.ndarray]:
        """Flows with one end from `start` up to but not at `end`, and +1 for those that enter."""
        inside = slice(self.starts[start], self.starts[end])
        flows, at = np.unique(self.flows[inside], return_inverse=True)
        signs = np.bincount(at, self.signs[inside], len(flows))
        return flows[signs != 0], signs[signs != 0]


def _sizes(order: np.ndarray, parent: np.ndarray) -> np.ndarray:
    """How many balances hang on each one in a walk, itself included."""
    size, up = [1] * len(order), parent.tolist()
    for node in reversed(order.tolist()):
        if up[node] >= 0:
            size[up[node]] += size[node]
    return np.array(size)


def _variance_of(signs: np.ndarray, variance: np.ndarray, equations: Equations | None) -> float:
    """Variance of a signed sum of reconciled flows: c'Sc - b'(A S A')^-1 b with b = A S c."""
    weighted = signs * variance
    raw = float(signs @ weighted)
    if equations is None:
        return raw
    explained = equations.gain_of(weighted)
    return max(0.0, raw - float(explained @ equations.factors.solve(explained)))
