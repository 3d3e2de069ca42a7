"""The order of steps against networkx, and set-ups done once."""

from __future__ import annotations

import random

import networkx as nx
import pytest

from repairs.rules.plan.graph import Graph, Node, arrange


def make_graph(count: int, *, setups: dict[str, str] | None = None) -> Graph:
    names = [f"s{number}" for number in range(count)]
    nodes = {
        name: Node(
            key=name, tags=frozenset(), phase=number, setup=(setups or {}).get(name, ""), part="", rank=(0, 0, name)
        )
        for number, name in enumerate(names)
    }
    return Graph(nodes=nodes)


def blocks(keys: tuple[str, ...], setups: dict[str, str], setup: str) -> int:
    """Return how often a set-up is begun."""
    worn = [setups.get(key, "") == setup for key in keys]
    return sum(now and not before for before, now in zip([False, *worn], worn, strict=False))


def test_every_edge_holds_on_random_graphs():
    generator = random.Random("graphs")
    for _ in range(200):
        graph = make_graph(12, setups={f"s{n}": generator.choice(["", "bath", "torch"]) for n in range(12)})
        order = list(graph.nodes)
        generator.shuffle(order)
        for at, before in enumerate(order):
            for after in order[at + 1 :]:
                if generator.random() < 0.2:
                    graph.link(before, after, because="so")
        found = arrange(graph)
        check = nx.DiGraph(list(graph.edges))
        place = {key: number for number, key in enumerate(found.keys)}
        assert found.conflicts == ()
        assert len(place) == 12
        assert all(place[before] < place[after] for before, after in check.edges)
        reduced = nx.transitive_reduction(check)
        assert {(before, key) for key, direct in found.direct.items() for before in direct} == set(reduced.edges)


def test_a_set_up_is_done_once_where_nothing_forbids_it():
    setups = {"s0": "torch", "s3": "torch", "s5": "torch"}
    found = arrange(make_graph(6, setups=setups))
    assert blocks(found.keys, setups, "torch") == 1


def test_a_set_up_is_done_twice_only_where_it_must_be():
    setups = {"s0": "torch", "s2": "torch", "s4": "torch"}
    graph = make_graph(5, setups=setups)
    graph.link("s0", "s1", because="cool down")
    graph.link("s1", "s2", because="cool down")
    found = arrange(graph)
    assert blocks(found.keys, setups, "torch") == 2
    assert found.keys.index("s0") < found.keys.index("s1") < found.keys.index("s2")


def test_what_is_free_goes_by_phase():
    assert arrange(make_graph(5)).keys == ("s0", "s1", "s2", "s3", "s4")


def test_rules_that_contradict_each_other_are_reported_not_hidden():
    graph = make_graph(2)
    graph.link("s0", "s1", because="one rule")
    graph.link("s1", "s0", because="another rule")
    found = arrange(graph)
    assert found.keys == ("s0", "s1")
    assert found.conflicts == ("s1 before s0: another rule",)


def test_needs_in_a_circle_are_refused():
    graph = make_graph(2)
    graph.link("s0", "s1", because="needed", is_hard=True)
    graph.link("s1", "s0", because="needed", is_hard=True)
    with pytest.raises(ValueError, match="circle"):
        arrange(graph)


def test_an_edge_to_a_step_that_is_not_there_is_no_edge():
    graph = make_graph(1)
    graph.link("s0", "elsewhere", because="so")
    assert graph.edges == {}


def test_reaching_follows_edges_forward():
    graph = make_graph(3)
    graph.link("s0", "s1", because="so")
    graph.link("s1", "s2", because="so")
    assert graph.reaches("s0", "s2")
    assert not graph.reaches("s2", "s0")
