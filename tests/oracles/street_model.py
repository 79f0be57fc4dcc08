"""Second model of hose laid along streets, written from the prose of the rules alone: all segments are looked at for each point, barriers by the
sign of areas, ways by scipy's Dijkstra over a graph in which every place and hydrant is a node. It shares no code and no method with the service.

What joins: vertices at one point on one level, and those of one level no farther apart than half a foot, by a step of that length. A line that goes
from one level to another is on none in between. A street is cut where a barrier of its level has a point in common with it, but for a barrier's very
end, and ends an eighth of a foot before it. A point belongs to the nearest point of a street that a straight line reaches without meeting a barrier of that street's levels.
"""

from collections import Counter
from dataclasses import dataclass

import numpy as np
from scipy.sparse import csr_matrix
from scipy.sparse.csgraph import dijkstra
from scipy.spatial import cKDTree

JOINT_FT = 0.5
SHORT_FT = 0.125
# scipy takes an edge of no length for none.
NO_LENGTH_FT = 1e-9
SOURCES_AT_ONCE = 128


@dataclass
class Foot:
    segment: int
    along: float
    off: float


def turn(a, b, c):
    return (b[..., 0] - a[..., 0]) * (c[..., 1] - a[..., 1]) - (b[..., 1] - a[..., 1]) * (c[..., 0] - a[..., 0])


def within_box(point, a, b):
    return np.all((np.minimum(a, b) <= point) & (point <= np.maximum(a, b)), axis=-1)


class Barriers:
    def __init__(self, lines: list):
        pieces, levels, keys = [], [], []
        for line in lines:
            for i, (a, b) in enumerate(zip(line["points"], line["points"][1:])):
                if a != b:
                    pieces.append((a, b))
                    levels.append((min(line["levels"]), max(line["levels"])))
                    keys.append(tuple(vertex(line, j, ("barrier", id(line), j)) for j in (i, i + 1)))
        met = Counter(key for pair in keys for key in pair)
        self.ends = np.array(pieces, dtype=float).reshape(-1, 2, 2)
        self.levels = np.array(levels, dtype=int).reshape(-1, 2)
        self.loose = np.array([[met[key] < 2 for key in pair] for pair in keys], dtype=bool).reshape(-1, 2)
        self.least, self.most = self.ends.min(axis=1, initial=np.inf), self.ends.max(axis=1, initial=-np.inf)

    def near(self, a, b, levels) -> np.ndarray:
        box = np.all((self.least <= np.maximum(a, b)) & (np.minimum(a, b) <= self.most), axis=1)
        return np.flatnonzero(box & (self.levels[:, 0] <= levels[1]) & (levels[0] <= self.levels[:, 1]))

    def meetings(self, a, b, levels, loose_ends: bool) -> list:
        """Where a straight line meets barriers, as shares of it; a barrier's loose end counts only where that is said."""
        found = []
        for i in self.near(a, b, levels):
            c, d = self.ends[i]
            tc, td, ta, tb = turn(a, b, c), turn(a, b, d), turn(c, d, a), turn(c, d, b)
            if ta * tb < 0 and tc * td < 0:
                found.append(ta / (ta - tb))
                continue
            open_ends = [end for end, loose in zip((c, d), self.loose[i]) if loose and not loose_ends]
            is_open = lambda point: any(np.array_equal(point, end) for end in open_ends)
            for share, point, zero in ((0.0, a, ta == 0), (1.0, b, tb == 0)):
                if zero and within_box(point, c, d) and not is_open(point):
                    found.append(share)
            for point, zero in ((c, tc == 0), (d, td == 0)):
                inside = zero and within_box(point, a, b) and not is_open(point)
                if inside and not np.array_equal(point, a) and not np.array_equal(point, b):
                    found.append(float(np.hypot(*(point - a)) / np.hypot(*(b - a))))
        return sorted(set(found))


def vertex(line: dict, i: int, private) -> tuple:
    """What a line's i-th point meets: its place and level, or nothing but its own line."""
    x, y = line["points"][i]
    first, last = line["levels"]
    if i == 0:
        return (x, y, first)
    if i + 1 == len(line["points"]) or first == last:
        return (x, y, last)
    return private


class Streets:
    def __init__(self, lines: list):
        self.barriers = Barriers([line for line in lines if line["barrier"]])
        self.count, ids, self.at, self.level = 0, {}, [], []
        segments = []
        for number, line in enumerate(lines):
            if line["barrier"]:
                continue
            points = line["points"]
            nodes = []
            for i, point in enumerate(points):
                key = vertex(line, i, (number, i))
                if key not in ids:
                    ids[key] = self.node(point, key[2] if len(key) == 3 else None)
                nodes.append(ids[key])
            levels = (min(line["levels"]), max(line["levels"]))
            for i in range(len(points) - 1):
                if nodes[i] != nodes[i + 1]:
                    segments += self.cut(points[i], points[i + 1], nodes[i], nodes[i + 1], levels)
        self.a = np.array([s[0] for s in segments], dtype=float)
        self.b = np.array([s[1] for s in segments], dtype=float)
        self.nodes = np.array([s[2] for s in segments], dtype=int)
        self.levels = np.array([s[3] for s in segments], dtype=int)
        self.ft = np.hypot(*(self.b - self.a).T)
        self.least, self.most = np.minimum(self.a, self.b), np.maximum(self.a, self.b)
        self.joints = self.joined()

    def node(self, point, level) -> int:
        self.at.append(point)
        self.level.append(level)
        self.count += 1
        return self.count - 1

    def cut(self, a, b, from_node, to_node, levels) -> list:
        """What is left of a stretch between the barriers that it meets. It ends just short of them, so that it is plain on which side."""
        at = self.barriers.meetings(np.array(a), np.array(b), levels, False) if len(self.barriers.ends) else []
        if not at:
            return [(a, b, (from_node, to_node), levels)]
        share = lambda t: (a[0] + (b[0] - a[0]) * t, a[1] + (b[1] - a[1]) * t)
        short = SHORT_FT / float(np.hypot(b[0] - a[0], b[1] - a[1]))
        pieces = []
        for start, end in zip([None, *at], [*at, None]):
            low, high = 0.0 if start is None else start + short, 1.0 if end is None else end - short
            if low < high:
                first = from_node if start is None else self.node(share(low), None)
                last = to_node if end is None else self.node(share(high), None)
                pieces.append((share(low), share(high), (first, last), levels))
        return pieces

    def joined(self) -> list:
        """Pairs of vertices that miss each other by little, with how far apart they are."""
        found = []
        for level in {level for level in self.level if level is not None}:
            own = [i for i, other in enumerate(self.level) if other == level]
            at = np.array([self.at[i] for i in own])
            for i, j in cKDTree(at).query_pairs(JOINT_FT):
                if not (len(self.barriers.ends) and self.barriers.meetings(at[i], at[j], (level, level), True)):
                    found.append((own[i], own[j], float(np.hypot(*(at[i] - at[j])))))
        return found

    def foot(self, point, within: float, margin: float) -> tuple:
        """Where a point belongs, and whether that is in doubt: another stretch lies as near by the margin, and the two do not meet there."""
        reach = within + margin
        at = np.array(point, dtype=float)
        near = np.flatnonzero(np.all((self.least <= at + reach) & (at - reach <= self.most), axis=1))
        a, b, ft = self.a[near], self.b[near], self.ft[near]
        share = np.clip(((at - a) * (b - a)).sum(axis=1) / np.maximum(ft * ft, 1e-30), 0, 1)
        feet = a + (b - a) * share[:, None]
        off = np.hypot(*(at - feet).T)
        order = [i for i in np.argsort(off, kind="stable") if off[i] <= reach]
        seen = []
        for i in order:
            if seen and off[i] > off[seen[0]] + margin:
                break
            if self.seen(at, feet[i], self.levels[near[i]]):
                seen.append(i)
        if not seen:
            return None, False
        best = seen[0]
        foot = Foot(int(near[best]), float(share[best] * ft[best]), float(off[best]))
        doubt = abs(foot.off - within) <= margin
        for i in seen[1:]:
            meet = set(self.nodes[near[i]]) & set(self.nodes[near[best]])
            doubt |= not meet or float(np.hypot(*(feet[i] - feet[best]))) > margin
        return (foot if foot.off <= within else None), bool(doubt)

    def seen(self, a, b, levels) -> bool:
        return not len(self.barriers.ends) or not self.barriers.meetings(a, b, levels, True)

    def reach(self, hydrants: list, places: list, limit: float):
        """Yields (hydrant, place, ft along the streets) of everything within the limit. Both are lists of feet on streets or None."""
        feet = [foot for foot in hydrants + places if foot]
        node_of, edges = {}, list(self.joints)
        on = {}
        for rank, foot in enumerate(hydrants + places):
            if foot:
                node_of[rank] = self.count + len(node_of)
                on.setdefault(foot.segment, []).append((foot.along, node_of[rank]))
        whole = np.ones(len(self.ft), dtype=bool)
        for segment, own in on.items():
            whole[segment] = False
            first, last = self.nodes[segment]
            chain = [(0.0, first), *sorted(own), (self.ft[segment], last)]
            edges += [(u, v, to - start) for (start, u), (to, v) in zip(chain, chain[1:])]
        graph = self.graph(edges, whole, self.count + len(feet))
        sources = [(h, node_of[h]) for h in range(len(hydrants)) if h in node_of]
        targets = np.array([p for p in range(len(places)) if p + len(hydrants) in node_of], dtype=int)
        columns = np.array([node_of[p + len(hydrants)] for p in targets], dtype=int)
        for start in range(0, len(sources), SOURCES_AT_ONCE):
            some = sources[start : start + SOURCES_AT_ONCE]
            away = dijkstra(graph, directed=False, indices=[node for _, node in some], limit=limit)[:, columns]
            for row, column in zip(*np.nonzero(np.isfinite(away))):
                yield some[row][0], int(targets[column]), float(away[row, column])

    def graph(self, edges: list, whole, count: int) -> csr_matrix:
        u = np.concatenate([self.nodes[whole, 0], np.array([e[0] for e in edges], dtype=int)])
        v = np.concatenate([self.nodes[whole, 1], np.array([e[1] for e in edges], dtype=int)])
        ft = np.concatenate([self.ft[whole], np.array([e[2] for e in edges], dtype=float)])
        low, high, ft = np.minimum(u, v), np.maximum(u, v), np.maximum(ft, NO_LENGTH_FT)
        order = np.lexsort((ft, high, low))
        low, high, ft = low[order], high[order], ft[order]
        # Of edges between the same two the shortest: a sparse matrix would add them up.
        first = np.concatenate([[True], (low[1:] != low[:-1]) | (high[1:] != high[:-1])])
        return csr_matrix((ft[first], (low[first], high[first])), shape=(count, count))
