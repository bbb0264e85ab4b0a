"""Layered drawing of a lineage: which lot or run stands where so that flows read one way.

The way of Sugiyama, Tagawa and Toda [1]_: layers by the longest path, chains of bends for flows
that pass a layer, order within a layer by barycentres, and then, within that order, the places
nearest in least squares to the neighbours, found exactly by pooling adjacent violators [2]_.

No recursion, no chance: the same lineage is always drawn the same way.

References
----------
.. [1] Sugiyama, Tagawa, Toda (1981), Methods for visual understanding of hierarchical system
   structures, IEEE Transactions on Systems, Man, and Cybernetics 11(2), 109-125.
.. [2] Barlow, Bartholomew, Bremner, Brunk (1972), Statistical inference under order restrictions.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from graphlib import CycleError, TopologicalSorter
from itertools import pairwise

Node = Hashable
Edge = tuple[Node, Node]

SWEEPS = 12
GAP = 1.0


class LineageCycle(ValueError):
    """The flows run in a circle, which a lineage of lots never does."""


@dataclass(frozen=True, slots=True)
class Layout:
    """Where everything stands.

    `places` gives each node its layer (a whole number from 0) and the place across it (rows, 0 the
    first); `bends` gives each edge the points it runs through, ends included; `breadth` is the
    number of rows needed, `depth` the number of layers.
    """

    places: dict[Node, tuple[int, float]]
    bends: dict[Edge, tuple[tuple[int, float], ...]]
    breadth: float
    depth: int


def layers(nodes: Iterable[Node], edges: Iterable[Edge]) -> dict[Node, int]:
    """Return the layer of each node: 0 for what nothing flows into, else the longest path to it.

    Sources then move up to just before the first thing they flow into, so that no flow is longer
    than it must be. Raises LineageCycle for flows in a circle and ValueError for an unknown end.

    Examples
    --------
    >>> layers("abcd", [("a", "b"), ("b", "c"), ("d", "c")])
    {'a': 0, 'b': 1, 'c': 2, 'd': 1}
    """
    before: dict[Node, list[Node]] = {node: [] for node in nodes}
    after: dict[Node, list[Node]] = {node: [] for node in before}
    for source, target in dict.fromkeys(edges):
        if source not in before or target not in before:
            raise ValueError(f"flow {source!r} to {target!r}: both ends must be among the nodes")
        before[target].append(source)
        after[source].append(target)
    try:
        order = list(TopologicalSorter(before).static_order())
    except CycleError as error:
        raise LineageCycle(f"the flows run in a circle: {error.args[1]!r}") from error
    layer: dict[Node, int] = {}
    for node in order:
        layer[node] = max((layer[source] + 1 for source in before[node]), default=0)
    for node in order:
        if not before[node] and after[node]:
            layer[node] = min(layer[target] for target in after[node]) - 1
    return {node: layer[node] for node in before}


def crossings(upper: Sequence[Node], lower: Sequence[Node], edges: Iterable[Edge]) -> int:
    """Return how many pairs of edges between two neighbouring layers cross.

    Examples
    --------
    >>> crossings("ab", "cd", [("a", "d"), ("b", "c")]), crossings("ab", "cd", [("a", "c")])
    (1, 0)
    """
    first = {node: rank for rank, node in enumerate(upper)}
    second = {node: rank for rank, node in enumerate(lower)}
    ends = [end for _, end in sorted((first[s], second[t]) for s, t in edges)]
    tree = [0] * (len(lower) + 1)
    crossed = 0
    for seen, end in enumerate(ends):
        index, not_beyond = end + 1, 0
        while index:
            not_beyond += tree[index]
            index &= index - 1
        crossed += seen - not_beyond
        index = end + 1
        while index < len(tree):
            tree[index] += 1
            index += index & -index
    return crossed


def spread(
    wanted: Sequence[float], heights: Sequence[float], weights: Sequence[float], gap: float = GAP
) -> list[float]:
    """Return middles in the given order, nearest to the wanted ones, that leave `gap` between.

    Minimises the weighted sum of squares of the distances from `wanted` under
    ``y[i+1] - y[i] >= (heights[i] + heights[i+1]) / 2 + gap``; exact, by pooling adjacent
    violators. All lengths in rows.

    Examples
    --------
    >>> spread([1.0, 1.0], [0.0, 0.0], [1.0, 1.0], gap=1.0)
    [0.5, 1.5]
    >>> spread([0.0, 5.0], [0.0, 0.0], [1.0, 1.0], gap=1.0)
    [0.0, 5.0]
    """
    offsets = [0.0]
    for one, other in pairwise(heights):
        offsets.append(offsets[-1] + (one + other) / 2 + gap)
    blocks: list[tuple[float, float, int]] = []
    for want, offset, weight in zip(wanted, offsets, weights, strict=False):
        mean, total, count = want - offset, weight, 1
        while blocks and blocks[-1][0] >= mean:
            earlier_mean, earlier_total, earlier_count = blocks.pop()
            mean = (mean * total + earlier_mean * earlier_total) / (total + earlier_total)
            total, count = total + earlier_total, count + earlier_count
        blocks.append((mean, total, count))
    means = [mean for mean, _, count in blocks for _ in range(count)]
    return [mean + offset for mean, offset in zip(means, offsets, strict=False)]


@dataclass(frozen=True, slots=True)
class _Bend:
    """Where an edge passes a layer."""

    edge: Edge
    rank: int


@dataclass(slots=True)
class _Grid:
    """Layers with bends put in: `ranks[i]` in drawing order, links between neighbours only."""

    ranks: list[list[Node]]
    before: dict[Node, list[Node]]
    after: dict[Node, list[Node]]
    chains: dict[Edge, list[Node]]

    def links(self, rank: int) -> list[Edge]:
        return [(node, target) for node in self.ranks[rank] for target in self.after[node]]

    def crossings(self) -> int:
        return sum(
            crossings(upper, lower, self.links(rank))
            for rank, (upper, lower) in enumerate(pairwise(self.ranks))
        )


def _grid(layer: Mapping[Node, int], edges: Iterable[Edge]) -> _Grid:
    """Cut each edge into links between neighbouring layers, with a bend where it passes one."""
    ranks: list[list[Node]] = [[] for _ in range(max(layer.values(), default=-1) + 1)]
    for node, rank in layer.items():
        ranks[rank].append(node)
    grid = _Grid(ranks, {node: [] for node in layer}, {node: [] for node in layer}, {})
    for source, target in edges:
        chain: list[Node] = [source]
        for rank in range(layer[source] + 1, layer[target]):
            bend = _Bend((source, target), rank)
            grid.before[bend], grid.after[bend] = [], []
            ranks[rank].append(bend)
            chain.append(bend)
        chain.append(target)
        for one, other in pairwise(chain):
            grid.after[one].append(other)
            grid.before[other].append(one)
        grid.chains[source, target] = chain
    return grid


def _arrange(grid: _Grid) -> None:
    """Order each layer by barycentres, down and up, and keep the order that crosses least."""
    best, fewest = [list(rank) for rank in grid.ranks], grid.crossings()
    for sweep in range(SWEEPS):
        down = sweep % 2 == 0
        neighbours = grid.before if down else grid.after
        ranks = range(1, len(grid.ranks)) if down else range(len(grid.ranks) - 2, -1, -1)
        for rank in ranks:
            beside = grid.ranks[rank - 1 if down else rank + 1]
            at = {node: place for place, node in enumerate(beside)}
            here = {node: place for place, node in enumerate(grid.ranks[rank])}
            centre = {
                node: sum(at[other] for other in neighbours[node]) / len(neighbours[node])
                if neighbours[node]
                else float(here[node])
                for node in here
            }
            grid.ranks[rank] = sorted(here, key=lambda node: (centre[node], here[node]))
        crossed = grid.crossings()
        if crossed < fewest:
            best, fewest = [list(rank) for rank in grid.ranks], crossed
        if not fewest:
            break
    grid.ranks = best


def _height(node: Node, heights: Mapping[Node, float]) -> float:
    return heights.get(node.edge if isinstance(node, _Bend) else node, 0.0)


def _settle(grid: _Grid, heights: Mapping[Node, float], gap: float) -> dict[Node, float]:
    """Give every node its place across: each layer in turn as near to its neighbours as can be."""
    across: dict[Node, float] = {}
    for rank in grid.ranks:
        sizes = [_height(node, heights) for node in rank]
        across.update(
            zip(rank, spread([0.0] * len(rank), sizes, [1.0] * len(rank), gap), strict=True)
        )
    for sweep in range(SWEEPS):
        down = sweep % 2 == 0
        for rank in grid.ranks if down else reversed(grid.ranks):
            wanted, weights = [], []
            for node in rank:
                first, second = grid.before[node], grid.after[node]
                near = (first or second) if down else (second or first)
                near = first + second if sweep >= SWEEPS - 2 and first and second else near
                wanted.append(
                    sum(across[other] for other in near) / len(near) if near else across[node]
                )
                weights.append(1.0 + len(near) + 4.0 * isinstance(node, _Bend))
            sizes = [_height(node, heights) for node in rank]
            across.update(zip(rank, spread(wanted, sizes, weights, gap), strict=True))
    return across


def layout(
    nodes: Iterable[Node],
    edges: Iterable[Edge],
    heights: Mapping[Node, float] | None = None,
    gap: float = GAP,
) -> Layout:
    """Return where the nodes stand and how the edges run; the same for the same input.

    `heights` gives the rows that a node, or an edge where it passes a layer, takes (0 if not
    named), `gap` the rows between two.
    Raises LineageCycle for flows in a circle, ValueError for an edge whose end is no node.

    Examples
    --------
    >>> drawn = layout(["bag", "sort", "clean", "caps"],
    ...                [("bag", "sort"), ("sort", "clean"), ("sort", "caps")])
    >>> drawn.places["bag"], drawn.places["clean"], drawn.places["caps"], drawn.breadth
    ((0, 0.5), (2, 0.0), (2, 1.0), 1.0)
    """
    heights = heights or {}
    unique = list(dict.fromkeys(edges))
    layer = layers(nodes, unique)
    grid = _grid(layer, unique)
    _arrange(grid)
    across = _settle(grid, heights, gap)
    tops = [across[node] - _height(node, heights) / 2 for node in across]
    ends = [across[node] + _height(node, heights) / 2 for node in across]
    top, depth = min(tops, default=0.0), len(grid.ranks)
    rank_of = {node: rank for rank, nodes_there in enumerate(grid.ranks) for node in nodes_there}
    point = {node: (rank_of[node], across[node] - top) for node in across}
    return Layout(
        places={node: point[node] for node in layer},
        bends={edge: tuple(point[node] for node in chain) for edge, chain in grid.chains.items()},
        breadth=max(ends, default=0.0) - top,
        depth=depth,
    )
