"""The layered drawing: everything is placed, flows go one way, nothing overlaps, nothing is chance.

Counting crossings is held against a count of all pairs, the places across against scipy's general
minimiser (SLSQP), layers against the definition of the longest path.
"""

from itertools import combinations, pairwise
from time import perf_counter

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from recycling.calc.lots.lineage import LineageCycle, crossings, layers, layout, spread


@st.composite
def lineages(draw):
    """Nodes 0 to n-1 and edges that only ever go to a higher number."""
    size = draw(st.integers(1, 25))
    pairs = list(combinations(range(size), 2))
    edges = draw(st.lists(st.sampled_from(pairs), max_size=50)) if pairs else []
    return list(range(size)), edges


def season(lots=200):
    """A history such as a workshop makes: bags sorted, shredded together, dried, extruded."""
    nodes, edges = [], []
    stock = []
    for number in range(lots // 5):
        bag, sort, clean, caps = (f"{word}{number}" for word in ("bag", "sort", "clean", "caps"))
        nodes += [bag, sort, clean, caps]
        edges += [(bag, sort), (sort, clean), (sort, caps)]
        stock.append(clean)
    heel = ""
    for number, start in enumerate(range(0, len(stock), 5)):
        shred, flake, dry, dried, extrude = (
            f"{word}{number}" for word in ("shred", "flake", "dry", "dried", "extrude")
        )
        nodes += [shred, flake, dry, dried, extrude]
        edges += [(clean, shred) for clean in stock[start : start + 5]]
        edges += [(shred, flake), (flake, dry), (dry, dried), (dried, extrude)]
        if heel:
            edges.append((heel, extrude))
        heel = f"heel{number}"
        for out in (heel, *(f"spool{number}-{each}" for each in range(4))):
            nodes.append(out)
            edges.append((extrude, out))
    return nodes, edges


@given(lineages())
def test_every_node_is_placed_and_every_flow_goes_forward(lineage):
    nodes, edges = lineage
    drawn = layout(nodes, edges)
    assert set(drawn.places) == set(nodes)
    assert set(drawn.bends) == set(edges)
    for (source, target), points in drawn.bends.items():
        assert points[0] == drawn.places[source] and points[-1] == drawn.places[target]
        assert all(after[0] - before[0] == 1 for before, after in pairwise(points))


@given(lineages())
def test_no_two_nodes_of_a_layer_are_nearer_than_the_gap(lineage):
    nodes, edges = lineage
    drawn = layout(nodes, edges, gap=1.5)
    points = {point for bends in drawn.bends.values() for point in bends}
    points |= set(drawn.places.values())
    for layer in range(drawn.depth):
        across = sorted(y for x, y in points if x == layer)
        assert all(after - before >= 1.5 - 1e-6 for before, after in pairwise(across))
    assert all(-1e-9 <= y <= drawn.breadth + 1e-9 for _, y in points)


@given(lineages())
def test_heights_of_nodes_do_not_overlap(lineage):
    nodes, edges = lineage
    heights = {node: 1.0 + node % 4 for node in nodes}
    drawn = layout(nodes, edges, heights, gap=0.5)
    for one, other in combinations(nodes, 2):
        (x, y), (other_x, other_y) = drawn.places[one], drawn.places[other]
        if x == other_x:
            assert abs(y - other_y) >= (heights[one] + heights[other]) / 2 + 0.5 - 1e-6


@given(lineages())
def test_the_same_lineage_is_drawn_the_same_way(lineage):
    assert layout(*lineage) == layout(*lineage)


@given(lineages())
def test_a_layer_is_the_longest_path_but_sources_stand_by_what_they_feed(lineage):
    nodes, edges = lineage
    layer = layers(nodes, edges)
    for node in nodes:
        before = [source for source, target in edges if target == node]
        after = [target for source, target in edges if source == node]
        if before:
            longest = longest_path(node, edges)
            assert layer[node] == longest
        elif after:
            assert layer[node] == min(layer[target] for target in after) - 1
        else:
            assert layer[node] == 0


def longest_path(node, edges):
    """Length of the longest path to a node, from the definition."""
    reached, length = {node}, -1
    while reached:
        reached = {source for source, target in edges if target in reached}
        length += 1
    return length


@given(st.data())
def test_crossings_equal_a_count_of_all_pairs(data):
    upper, lower = list(range(6)), list(range(10, 17))
    pairs = st.tuples(st.sampled_from(upper), st.sampled_from(lower))
    edges = data.draw(st.lists(pairs, max_size=25))
    upper, lower = data.draw(st.permutations(upper)), data.draw(st.permutations(lower))
    counted = sum(
        (upper.index(a) - upper.index(c)) * (lower.index(b) - lower.index(d)) < 0
        for (a, b), (c, d) in combinations(edges, 2)
    )
    assert crossings(upper, lower, edges) == counted


@settings(max_examples=25, deadline=None)
@given(
    st.lists(
        st.tuples(st.floats(-5, 5), st.floats(0, 2), st.floats(0.5, 4)), min_size=2, max_size=6
    )
)
def test_places_across_are_the_least_squares_that_a_general_minimiser_finds(rows):
    from scipy.optimize import minimize

    wanted, heights, weights = (list(column) for column in zip(*rows, strict=True))
    found = spread(wanted, heights, weights, gap=1.0)

    def cost(places):
        return sum(w * (y - t) ** 2 for w, y, t in zip(weights, places, wanted, strict=True))

    least = [(one + other) / 2 + 1.0 for one, other in pairwise(heights)]
    rules = [
        {"type": "ineq", "fun": lambda y, i=i, d=d: y[i + 1] - y[i] - d}
        for i, d in enumerate(least)
    ]
    start = [20.0 * place for place in range(len(rows))]
    other = minimize(cost, start, constraints=rules, method="SLSQP", options={"maxiter": 500})
    assert all(b - a >= d - 1e-9 for (a, b), d in zip(pairwise(found), least, strict=True))
    assert cost(found) <= other.fun + 1e-6
    assert other.fun <= cost(found) + 1e-3 * (1 + cost(found))


def test_a_tree_is_drawn_without_a_crossing():
    nodes = ["bag", "sort", "clean", "caps", "shred", "flake", "fines", "send", "gone"]
    edges = [("bag", "sort"), ("sort", "clean"), ("sort", "caps"), ("clean", "shred")]
    edges += [("caps", "send"), ("send", "gone"), ("shred", "flake"), ("shred", "fines")]
    drawn = layout(nodes, edges)
    for layer in range(drawn.depth - 1):
        here = sorted((y, n) for n, (x, y) in drawn.places.items() if x == layer)
        next_ = sorted((y, n) for n, (x, y) in drawn.places.items() if x == layer + 1)
        between = [(s, t) for s, t in edges if drawn.places[s][0] == layer]
        assert crossings([n for _, n in here], [n for _, n in next_], between) == 0


def test_two_bags_crossed_by_their_order_of_entry_are_uncrossed():
    drawn = layout(["a", "b", "y", "x"], [("a", "x"), ("b", "y")])
    assert (drawn.places["a"][1] < drawn.places["b"][1]) == (
        drawn.places["x"][1] < drawn.places["y"][1]
    )


def test_a_chain_of_ten_thousand_needs_no_recursion():
    count = 10_000
    drawn = layout(range(count), [(number, number + 1) for number in range(count - 1)])
    assert drawn.depth == count and drawn.breadth == 0


def test_two_hundred_lots_take_well_under_a_tenth_of_a_second():
    nodes, edges = season(200)
    lots = [node for node in nodes if node.startswith(("bag", "clean", "caps", "flake", "spool"))]
    assert len(lots) > 150
    layout(nodes, edges)
    spent = []
    for _ in range(3):
        start = perf_counter()
        layout(nodes, edges)
        spent.append(perf_counter() - start)
    assert min(spent) < 0.1


def test_flows_in_a_circle_are_refused_by_name():
    with pytest.raises(LineageCycle, match="shred"):
        layout(["shred", "oversize"], [("shred", "oversize"), ("oversize", "shred")])
    with pytest.raises(LineageCycle):
        layout(["a"], [("a", "a")])


def test_a_flow_to_something_that_is_not_drawn_is_refused():
    with pytest.raises(ValueError, match="'b'"):
        layout(["a"], [("a", "b")])


def test_nothing_is_drawn_as_nothing():
    drawn = layout([], [])
    assert (drawn.places, drawn.bends, drawn.breadth, drawn.depth) == ({}, {}, 0.0, 0)
