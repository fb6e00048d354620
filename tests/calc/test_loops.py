"""Grouping of nodes, on which the choice of loops rests."""

from hypothesis import given
from hypothesis import strategies as st

from gaugewright.calc import loops


@given(st.integers(1, 8), st.data())
def test_groups_are_the_connected_pieces_and_useful_branches_span_them(n_nodes, data):
    node = st.integers(0, n_nodes - 1)
    ends = data.draw(st.lists(st.tuples(node, node), max_size=12))
    groups, useful = loops.joined_groups(range(n_nodes), ends)
    for first, second in ends:
        assert groups[first] == groups[second]
    # A spanning forest has one branch fewer than nodes in each piece.
    assert sum(useful) == n_nodes - len(set(groups))
    kept = [pair for pair, keep in zip(ends, useful, strict=True) if keep]
    again, _ = loops.joined_groups(range(n_nodes), kept)
    assert len(set(again)) == len(set(groups))
