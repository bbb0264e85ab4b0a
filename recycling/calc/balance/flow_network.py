"""Flows between balances: which can be computed at all, and flows that balance exactly.

A balance is a place where what comes in goes out: a lot over its life, or a run. Every flow leaves
one balance, or the border, and enters another, or the border.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

BORDER = -1


@dataclass(frozen=True, eq=False)
class FlowNetwork:
    """Ends of flows. source, target: a balance, or -1 for the border. balances: how many."""

    source: np.ndarray
    target: np.ndarray
    balances: int

    @property
    def ends(self) -> tuple[np.ndarray, np.ndarray]:
        """Source and target with the border as one more balance, the last."""
        border = self.balances
        return (
            np.where(self.source == BORDER, border, self.source),
            np.where(self.target == BORDER, border, self.target),
        )


@dataclass(frozen=True, eq=False)
class Contraction:
    """Balances joined over what was not measured.

    row: equation of each balance and, last, of the border; -1 where none is left. equations: how
    many. tail, head: equations at both ends of each flow.
    """

    row: np.ndarray
    equations: int
    tail: np.ndarray
    head: np.ndarray


def flow_network(source: Sequence[int], target: Sequence[int]) -> FlowNetwork:
    """Network of flows from their ends.

    Parameters
    ----------
    source, target : number of the balance that each flow leaves and enters, counted from 0;
        -1 for the border.

    Returns
    -------
    FlowNetwork
        The flows in the same order.

    Raises
    ------
    ValueError
        If there is no flow or no balance, the lists differ in length, a number is not whole or
        below -1, or a flow enters the balance that it leaves.

    Examples
    --------
    >>> flow_network([-1, 0, 0], [0, -1, -1]).balances
    1

    References
    ----------
    .. [1] R. S. H. Mah (1990), Chemical Process Structures and Information Flows: process graph.
    """
    tail, head = np.asarray(source), np.asarray(target)
    if tail.ndim != 1 or tail.shape != head.shape:
        raise ValueError(f"{tail.size} sources but {head.size} targets")
    if not tail.size:
        raise ValueError("there are no flows to reconcile")
    if tail.dtype.kind not in "iu" or head.dtype.kind not in "iu":
        raise ValueError("balances are numbered by whole numbers")
    if min(tail.min(), head.min()) < BORDER:
        raise ValueError("a balance cannot be numbered below -1")
    same = np.flatnonzero(tail == head)
    if same.size:
        raise ValueError(f"flow {same[0]} enters what it leaves")
    return FlowNetwork(
        tail.astype(np.int64), head.astype(np.int64), int(max(tail.max(), head.max())) + 1
    )


def _graph(tail, head, nodes):
    from scipy.sparse import coo_array

    return coo_array(
        (np.ones(len(tail), dtype=np.int8), (tail, head)), shape=(nodes, nodes)
    ).tocsr()


def contracted(network: FlowNetwork, used: np.ndarray) -> Contraction:
    """Join balances over flows that were not measured, and leave out what then follows from others.

    An unmeasured flow takes up whatever its two balances lack, so that only their sum can be
    tested. Of balances that no flow connects to the border one follows from the others.

    Parameters
    ----------
    network : the flows.
    used : which flows have a weighing that takes part.

    Returns
    -------
    Contraction
        One equation for each balance that is left.

    Raises
    ------
    ValueError
        If unmeasured flows form a loop, so that they cannot be computed; they are named.

    Examples
    --------
    >>> chain = flow_network([-1, 0, 1], [0, 1, -1])
    >>> contracted(chain, np.array([True, False, True])).equations
    1

    References
    ----------
    .. [1] R. S. H. Mah, G. M. Stanley and D. M. Downing (1976), Ind. Eng. Chem.
       Process Des. Dev. 15, 175.
    """
    from scipy.sparse.csgraph import connected_components

    tail, head = network.ends
    nodes = network.balances + 1
    if used.all():
        joined, label = nodes, np.arange(nodes)
    else:
        open_tail, open_head = tail[~used], head[~used]
        joined, label = connected_components(_graph(open_tail, open_head, nodes), directed=False)
        if len(open_tail) > nodes - joined:
            loop = np.flatnonzero(~used)[_on_loops(open_tail, open_head)]
            raise ValueError(
                f"unmeasured flows {', '.join(map(str, loop))} form a loop and cannot be computed: "
                "weigh one of them"
            )
    tail, head = label[tail], label[head]
    parts, part = connected_components(_graph(tail[used], head[used], joined), directed=False)
    left_out = np.full(parts, -1)
    left_out[part[::-1]] = np.arange(joined)[::-1]
    left_out[part[label[-1]]] = label[-1]  # any would do; the border's row would be the fullest
    kept = np.ones(joined, dtype=bool)
    kept[left_out] = False
    row = np.where(kept, np.cumsum(kept) - 1, -1)
    return Contraction(row[label], int(kept.sum()), row[tail], row[head])


def _on_loops(tail: np.ndarray, head: np.ndarray) -> list[int]:
    """Flows that stay after all dead ends are cut off, one after another."""
    at: dict[int, set[int]] = {}
    for flow, ends in enumerate(zip(tail.tolist(), head.tolist(), strict=True)):
        for end in ends:
            at.setdefault(end, set()).add(flow)
    dead_ends = [node for node, flows in at.items() if len(flows) == 1]
    left = set(range(len(tail)))
    while dead_ends:
        node = dead_ends.pop()
        if len(at[node]) == 1:
            flow = at[node].pop()
            left.discard(flow)
            other = int(tail[flow] + head[flow]) - node
            at[other].discard(flow)
            if len(at[other]) == 1:
                dead_ends.append(other)
    return sorted(left)


def forest(
    network: FlowNetwork, flows: np.ndarray, *, deep: bool = False
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Walk over flows from the border outwards: order of balances, and the flow to each one.

    Parameters
    ----------
    network : the flows.
    flows : numbers of the flows to walk over; of parallel ones the first is taken.
    deep : depth first, so that what hangs below a balance follows it directly.

    Returns
    -------
    tuple of numpy.ndarray
        Balances in the order of the walk (the border is the last number), parent of each balance,
        and the flow to it from its parent; -1 where it starts.

    Raises
    ------
    ValueError
        Never for a network that could be made.

    Examples
    --------
    >>> order, parent, by = forest(flow_network([-1, 0, 1], [0, 1, -1]), np.array([0, 1]))
    >>> order.tolist(), by.tolist()
    ([2, 0, 1], [0, 1, -1])

    References
    ----------
    .. [1] T. H. Cormen et al. (2009), Introduction to Algorithms, ch. 22: graph searches.
    """
    from scipy.sparse import csr_array
    from scipy.sparse.csgraph import (
        breadth_first_order,
        connected_components,
        depth_first_order,
    )

    tail, head = (end[flows] for end in network.ends)
    border, root = network.balances, network.balances + 1
    low, high = np.minimum(tail, head), np.maximum(tail, head)
    key, first = np.unique(low * root + high, return_index=True)
    low, high = low[first], high[first]
    parts, part = connected_components(_graph(low, high, root), directed=False)
    start = np.empty(parts, dtype=np.int64)
    start[part[::-1]] = np.arange(root)[::-1]
    start[part[border]] = border
    rows = np.concatenate((low, np.full(parts, root)))
    columns = np.concatenate((high, start))
    graph = csr_array((np.ones(len(rows), dtype=np.int8), (rows, columns)), shape=(root + 1,) * 2)
    walk = depth_first_order if deep else breadth_first_order
    order, parent = walk(graph, root, directed=False)
    parent = parent[:root]
    child = np.flatnonzero(parent != root)
    pair = np.minimum(child, parent[child]) * root + np.maximum(child, parent[child])
    by = np.full(root, -1)
    by[child] = flows[first[np.searchsorted(key, pair)]]
    parent = np.where(parent == root, -1, parent)
    return order[1:], parent, by


def completed(
    network: FlowNetwork, flows: np.ndarray, order: np.ndarray, parent: np.ndarray, by: np.ndarray
) -> np.ndarray:
    """Flows with those of a walk set so that every balance but the starts is exactly zero.

    Parameters
    ----------
    network : the flows.
    flows : values of all flows, mg; those of the walk are overwritten.
    order, parent, by : a walk of `forest`.

    Returns
    -------
    numpy.ndarray
        The completed flows, mg; whole numbers stay whole.

    Raises
    ------
    ValueError
        If the number of values is not the number of flows.

    Examples
    --------
    >>> chain = flow_network([-1, 0, 1], [0, 1, -1])
    >>> completed(chain, np.array([0, 0, 7]), *forest(chain, np.array([0, 1]))).tolist()
    [7, 7, 7]

    References
    ----------
    .. [1] R. K. Ahuja, T. L. Magnanti and J. B. Orlin (1993), Network Flows, 11.4: flows of a tree.
    """
    tail, head = network.ends
    if len(flows) != len(tail):
        raise ValueError(f"{len(flows)} values for {len(tail)} flows")
    done, child = flows.copy(), np.flatnonzero(by >= 0)
    done[by[child]] = 0
    gain = np.zeros(network.balances + 1, dtype=done.dtype)
    np.add.at(gain, head, done)
    np.subtract.at(gain, tail, done)
    hanging, up = gain.tolist(), parent.tolist()
    for node in reversed(order.tolist()):
        if up[node] >= 0:
            hanging[up[node]] += hanging[node]
    short = np.array(hanging, dtype=done.dtype)[child]
    done[by[child]] = np.where(head[by[child]] == child, -short, short)
    return done


def whole_flows(network: FlowNetwork, flows_mg: np.ndarray) -> np.ndarray:
    """Round flows that balance to whole milligrams that balance exactly.

    All flows but those of a spanning tree are rounded; the tree's follow from the balances. The
    tree is as shallow as the network allows, so that little is carried along.

    Parameters
    ----------
    network : the flows.
    flows_mg : their values, balanced up to rounding, mg.

    Returns
    -------
    numpy.ndarray
        Whole milligrams; every balance is exactly zero.

    Raises
    ------
    ValueError
        If a value is not finite, or the number of values is not the number of flows.

    Examples
    --------
    >>> split = flow_network([-1, 0, 0, 0], [0, -1, -1, -1])
    >>> whole_flows(split, np.array([10, 3.4, 3.3, 3.3])).tolist()
    [9, 3, 3, 3]

    References
    ----------
    .. [1] R. K. Ahuja, T. L. Magnanti and J. B. Orlin (1993), Network Flows, 11.4: flows of a tree.
    """
    if not np.isfinite(flows_mg).all():
        raise ValueError("a flow is not a finite number")
    rounded = np.rint(flows_mg).astype(np.int64)
    return completed(network, rounded, *forest(network, np.arange(len(network.source))))
