"""The precedence graph of a plan (a DAG), and a topological order of it that also shares set-ups."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from core.translation import gettext as _


@dataclass(frozen=True, slots=True)
class Node:
    """A step as the order sees it."""

    key: str
    tags: frozenset[str]
    phase: int
    setup: str
    part: str
    rank: tuple[int | str, ...]  # within a phase: dismantling late, then along the air path, the same work together
    role: str = ""  # of the part


@dataclass(slots=True)
class Graph:
    """Steps and the edges between them, each with its reason. An edge keeps the first reason given."""

    nodes: dict[str, Node]
    edges: dict[tuple[str, str], str] = field(default_factory=dict)
    hard: set[tuple[str, str]] = field(default_factory=set)

    def link(self, before: str, after: str, *, because: str, is_hard: bool = False) -> None:
        if before == after or before not in self.nodes or after not in self.nodes:
            return
        self.edges.setdefault((before, after), because)
        if is_hard:
            self.hard.add((before, after))

    def successors(self) -> dict[str, list[str]]:
        found: dict[str, list[str]] = {key: [] for key in self.nodes}
        for before, after in self.edges:
            found[before].append(after)
        return found

    def reaches(self, start: str, end: str) -> bool:
        """Whether ``start`` already has to come before ``end``."""
        following = self.successors()
        seen, stack = {start}, [start]
        while stack:
            for after in following[stack.pop()]:
                if after == end:
                    return True
                if after not in seen:
                    seen.add(after)
                    stack.append(after)
        return False


@dataclass(frozen=True, slots=True)
class Ordered:
    keys: tuple[str, ...]
    direct: Mapping[str, tuple[str, ...]]  # step -> the steps right before it, none implied by another
    conflicts: tuple[str, ...]


def arrange(graph: Graph) -> Ordered:
    """Return a topological order that does each set-up once wherever the edges allow it.

    Steps of one set-up are merged into clusters as long as the graph of clusters stays acyclic; steps that the edges
    leave free go by phase. Where order rules contradict each other (a fault of the catalog) the rule that goes most
    against the phases is dropped and reported.
    """
    conflicts = _break_cycles(graph)
    clusters = _clusters(graph)
    keys = _sorted_clusters(graph, clusters)
    return Ordered(keys=tuple(keys), direct=_transitive_reduction(graph, keys), conflicts=conflicts)


def _topological(
    keys: Iterable[str], edges: Iterable[tuple[str, str]], *, rank: Callable[[str], tuple[object, ...]]
) -> list[str]:
    """Return the keys in topological order (Kahn 1962), the lowest rank first; fewer of them if there is a cycle."""
    waiting: dict[str, int] = dict.fromkeys(keys, 0)
    following: dict[str, list[str]] = {key: [] for key in waiting}
    for before, after in edges:
        waiting[after] += 1
        following[before].append(after)
    free = [key for key, count in waiting.items() if count == 0]
    order: list[str] = []
    while free:
        key = min(free, key=rank)
        free.remove(key)
        order.append(key)
        for after in following[key]:
            waiting[after] -= 1
            if waiting[after] == 0:
                free.append(after)
    return order


def _break_cycles(graph: Graph) -> tuple[str, ...]:
    """Drop edges until the graph is acyclic; return what was dropped. ValueError where only hard edges are left."""
    conflicts: list[str] = []
    while True:
        order = _topological(graph.nodes, graph.edges, rank=lambda key: (key,))
        if len(order) == len(graph.nodes):
            return tuple(conflicts)
        stuck = set(graph.nodes) - set(order)
        inside = [edge for edge in graph.edges if edge[0] in stuck and edge[1] in stuck and edge not in graph.hard]
        if not inside:
            names = ", ".join(sorted(stuck))
            raise ValueError(f"the catalog's needs run in a circle: {names}")
        worst = max(inside, key=lambda edge: (graph.nodes[edge[0]].phase - graph.nodes[edge[1]].phase, edge))
        first, then = worst
        conflicts.append(_("%(first)s before %(then)s: %(why)s", first=first, then=then, why=graph.edges.pop(worst)))


def _clusters(graph: Graph) -> dict[str, str]:
    """Return each step's cluster by name: all steps of one set-up, or runs of them where all would make a cycle."""
    cluster = {key: key for key in graph.nodes}
    order = _topological(graph.nodes, graph.edges, rank=lambda key: (graph.nodes[key].phase, *graph.nodes[key].rank))
    setups: dict[str, list[str]] = {}
    for key in order:
        if graph.nodes[key].setup:
            setups.setdefault(graph.nodes[key].setup, []).append(key)
    # All of one set-up at once is best. Where that makes a cycle, something in between needs another set-up: then the
    # longest runs that do fit, in order, so that the torch is lit twice and not once for each step.
    for members in setups.values():
        if len(members) > 1 and not _join(graph, cluster, members):
            head = members[0]
            for key in members[1:]:
                if not _join(graph, cluster, [head, key]):
                    head = key
    return cluster


def _join(graph: Graph, cluster: dict[str, str], members: Sequence[str]) -> bool:
    """Put members into one cluster unless that makes a cycle; return whether it was done."""
    names = {cluster[key] for key in members}
    name = cluster[members[0]]
    merged = {key: name if own in names else own for key, own in cluster.items()}
    edges = _between(graph, merged)
    if len(_topological(set(merged.values()), edges, rank=lambda key: (key,))) != len(set(merged.values())):
        return False
    cluster.update(merged)
    return True


def _between(graph: Graph, cluster: Mapping[str, str]) -> set[tuple[str, str]]:
    return {(cluster[before], cluster[after]) for before, after in graph.edges if cluster[before] != cluster[after]}


def _sorted_clusters(graph: Graph, cluster: Mapping[str, str]) -> list[str]:
    members: dict[str, list[str]] = {}
    for key in graph.nodes:
        members.setdefault(cluster[key], []).append(key)

    def rank(key: str) -> tuple[object, ...]:
        return (graph.nodes[key].phase, *graph.nodes[key].rank)

    def cluster_rank(name: str) -> tuple[object, ...]:
        return min(rank(key) for key in members[name])

    order: list[str] = []
    for name in _topological(members, sorted(_between(graph, cluster)), rank=cluster_rank):
        inside = set(members[name])
        edges = [edge for edge in graph.edges if edge[0] in inside and edge[1] in inside]
        order += _topological(members[name], edges, rank=rank)
    return order


def _transitive_reduction(graph: Graph, order: Sequence[str]) -> dict[str, tuple[str, ...]]:
    """Return for each step those right before it: its predecessors without the ones that another of them implies."""
    before: dict[str, set[str]] = {key: set() for key in order}
    for earlier, later in graph.edges:
        before[later].add(earlier)
    closed: dict[str, set[str]] = {}
    direct: dict[str, tuple[str, ...]] = {}
    for key in order:
        implied: set[str] = set()
        for earlier in before[key]:
            implied |= closed[earlier]
        closed[key] = before[key] | implied
        left = before[key] - implied
        direct[key] = tuple(earlier for earlier in order if earlier in left)
    return direct
