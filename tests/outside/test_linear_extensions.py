"""Permitted complete orders of a list with precedences only are linear extensions.

Published counts: the 2 x n grid has as many as the Catalan numbers (OEIS A000108); the Boolean
lattices of 0 to 4 atoms have 1, 1, 2, 48, 1680384 (OEIS A046873).
"""

from __future__ import annotations

from collections.abc import Iterable
from itertools import combinations, product

import networkx
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from handsfree.checklist.conditions import Literal, both
from handsfree.checklist.model import Checklist, Fact, Step
from handsfree.proof import count_orders

Edge = tuple[str, str]


def precedences(names: Iterable[str], edges: Iterable[Edge]) -> Checklist:
    """Each step gives a fact of its own name, and needs those of its predecessors."""
    names, edges = list(names), list(edges)
    steps = {
        name: Step(name, f"Do {name}", gives=frozenset({f"{name} done"}),
                   needs=both(*(Literal(f"{a} done") for a, b in edges if b == name)))
        for name in names}
    facts = {f"{name} done": Fact(f"{name} done") for name in names}
    return Checklist("poset", "Poset", facts, steps, tuple(names))


@pytest.mark.parametrize("n, catalan", list(enumerate(
    [1, 2, 5, 14, 42, 132, 429, 1430, 4862, 16796, 58786, 208012], start=1)))
def test_two_rows_have_catalan_many(n: int, catalan: int) -> None:
    """OEIS A000108."""
    cells = [f"c{row}-{column}" for row in range(2) for column in range(n)]
    edges = [(f"c{r}-{c}", f"c{r}-{c + 1}") for r in range(2) for c in range(n - 1)]
    edges += [(f"c0-{c}", f"c1-{c}") for c in range(n)]
    count = count_orders(precedences(cells, edges))
    assert (count.number, count.exact) == (catalan, True)


@pytest.mark.parametrize("atoms, number", [(1, 1), (2, 2), (3, 48), (4, 1680384)])
def test_boolean_lattices(atoms: int, number: int) -> None:
    """OEIS A046873."""
    subsets = ["".join(bits) for bits in product("01", repeat=atoms)]
    edges = [(f"x{a}", f"x{b}") for a in subsets for b in subsets
             if sum(p != q for p, q in zip(a, b, strict=True)) == 1
             and a.count("1") < b.count("1")]
    count = count_orders(precedences([f"x{s}" for s in subsets], edges))
    assert (count.number, count.exact) == (number, True)


def test_two_chains_side_by_side() -> None:
    """Order theory: a chain of three beside a chain of two has 5! / (3! 2!) = 10 orders."""
    count = count_orders(precedences("abcde", [("a", "b"), ("b", "c"), ("d", "e")]))
    assert (count.number, count.exact) == (10, True)


@settings(max_examples=60, deadline=None, derandomize=True)
@given(st.integers(1, 7).flatmap(lambda n: st.tuples(
    st.just(n), st.sets(st.sampled_from(list(combinations(range(n), 2)) or [(0, 0)])))))
def test_random_orders_against_every_topological_sort(poset: tuple[int, set]) -> None:
    """networkx lists them all, one by one."""
    n, pairs = poset
    names = [f"s{number}" for number in range(n)]
    edges = [(names[a], names[b]) for a, b in pairs if a != b]
    graph = networkx.DiGraph(edges)
    graph.add_nodes_from(names)
    listed = sum(1 for _ in networkx.all_topological_sorts(graph))
    assert count_orders(precedences(names, edges)).number == listed


def test_too_many_to_count_is_said_and_a_lower_bound() -> None:
    """A budget of few states: less than all, and not claimed to be all."""
    cells = [f"c{row}-{column}" for row in range(2) for column in range(12)]
    edges = [(f"c{r}-{c}", f"c{r}-{c + 1}") for r in range(2) for c in range(11)]
    edges += [("c0-0", "c1-0")]
    every = count_orders(precedences(cells, edges))
    some = count_orders(precedences(cells, edges), most_states=100)
    assert every.exact and not some.exact
    assert 0 < some.number < every.number
    assert str(some).startswith("more than ")
