"""The critical path method against a worked example, a book's statement, and a graph library.

- "Network Construction - Critical Path Method", a lesson of a course on managing projects (a network of 14 activities,
  A to N; its table, its five paths and their lengths). Seen as an excerpt that ends in the forward pass; what the pass
  gives beyond the paths is checked by the graph library instead.
- networkx: longest path through a directed graph without rings (general-purpose library), run live.
"""

from __future__ import annotations

import networkx as nx
import numpy as np
import pytest

from dryfit.making.way_to_date import passes

# activity: duration, predecessors, as in the lesson's table
LESSON = {
    "A": (2, ""), "B": (10, "A"), "C": (13, "A"), "D": (12, "A"), "E": (12, "B"), "F": (7, "B"), "G": (10, "D"),
    "H": (16, "D"), "I": (6, "F"), "J": (12, "CG"), "K": (5, "I"), "L": (8, "EK"), "M": (5, "H"), "N": (3, "JLM"),
}  # fmt: skip
# paths and lengths as printed there; the second is named the critical one
PATHS = {"ABELN": 35, "ABFIKLN": 41, "ACJN": 30, "ADGJN": 39, "ADHMN": 38}


def lesson() -> tuple[list[str], list[float], list[list[int]]]:
    names = list(LESSON)
    after = [[names.index(one) for one in before] for _, before in LESSON.values()]
    return names, [float(d) for d, _ in LESSON.values()], after


def test_length_and_critical_path_of_the_lesson() -> None:
    names, work, after = lesson()
    early, done, begin, latest = passes(work, after, [0.0] * len(work))
    assert max(done) == PATHS["ABFIKLN"]
    assert "".join(n for n, e, b in zip(names, early, begin, strict=True) if b == e) == "ABFIKLN"
    assert latest[names.index("N")] == 41


@pytest.mark.parametrize(("path", "length"), PATHS.items())
def test_slack_of_each_path_of_the_lesson(path: str, length: int) -> None:
    """What a path lacks to the critical one is the slack of those of its activities that are on no longer path: the
    activities E, C, G and H, M are on one path each."""
    names, work, after = lesson()
    early, _, begin, _ = passes(work, after, [0.0] * len(work))
    slack = [b - e for b, e in zip(begin, early, strict=True)]
    assert max(slack[names.index(one)] for one in path) == PATHS["ABFIKLN"] - length


@pytest.mark.parametrize("seed", range(25))
def test_against_longest_paths_of_a_graph_library(seed: int) -> None:
    """Earliest start: longest way from any source. Slack: what the longest way through a task lacks to the longest."""
    rng = np.random.default_rng(seed)
    count = int(rng.integers(2, 25))
    work = rng.uniform(0, 9, count)
    order = rng.permutation(count)
    after: list[list[int]] = [[] for _ in range(count)]
    for place, task in enumerate(order):
        after[task] = [int(one) for one in order[:place] if rng.random() < 0.2]
    early, done, begin, latest = passes(list(work), after, [0.0] * count)

    graph = nx.DiGraph()
    for task in range(count):
        graph.add_edge("begin", (task, "in"), weight=0.0)
        graph.add_edge((task, "in"), (task, "out"), weight=work[task])
        graph.add_edge((task, "out"), "end", weight=0.0)
        for one in after[task]:
            graph.add_edge((one, "out"), (task, "in"), weight=0.0)
    whole = nx.dag_longest_path_length(graph)
    assert max(done) == pytest.approx(whole)
    for task in range(count):
        before = nx.dag_longest_path_length(graph.subgraph({(task, "in")} | nx.ancestors(graph, (task, "in"))))
        beyond = nx.dag_longest_path_length(graph.subgraph({(task, "out")} | nx.descendants(graph, (task, "out"))))
        assert early[task] == pytest.approx(before)
        assert latest[task] == pytest.approx(whole - beyond)
        assert begin[task] - early[task] == pytest.approx(whole - before - work[task] - beyond, abs=1e-9)
