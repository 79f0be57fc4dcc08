"""Second solver for a supply lay, written from the prose of the model alone.

It shares no code and no method with the service: limits are searched piece by piece between the flows where a loss
steps, each piece by scipy's brentq.  Units are gpm, psi and ft throughout; a coefficient is psi per (100 gpm)^2.
"""

from dataclasses import dataclass, field
from math import inf, sqrt
from typing import Callable, Optional

from scipy.optimize import brentq

PSI_PER_FT = 0.434
DEFAULT_FLOOR_PSI = 20.0
SERVICE_TEST_SHARE = 0.9
# (share of the rated flow, net pressure): the three points a fire pump is certified at.
PUMP_POINTS = ((0.5, 250.0), (0.7, 200.0), (1.0, 150.0))
# Two numbers nearer than this cannot be told apart by two solvers of honest but different rounding.
TIE = 1e-6
# Nearer than this they are one number: the limits meet by the lay's own make, and their order decides.
SAME = 1e-9

# What each binding limit says about the boosted answer.
CAUSE = {
    "pumper_intake": "suction",
    "hose_rating": "hose",
    "pumper_capacity": "pumper",
    "main_floor": "water",
    "scene_intake": "friction",
}


def root(f: Callable[[float], float], lo: float, hi: float) -> float:
    return brentq(f, lo, hi, xtol=1e-13, rtol=1e-14, maxiter=500)


class Main:
    """The water main, through its flow test."""

    def __init__(self, source: dict):
        self.static = source["static_psi"]
        self.drop = self.static - source["residual_psi"]
        self.tested = source["flow_gpm"]
        self.body = source.get("body_loss_coefficient") or 0.0

    def pressure(self, q: float) -> float:
        return self.static - self.drop * (q / self.tested) ** (1 / 0.54)

    def floor_flow(self, floor: float) -> float:
        if self.drop == 0:
            # A test that moved no gauge proves the tested flow and nothing past it.
            return self.tested if self.static >= floor else 0.0
        if self.static <= floor:
            return 0.0
        return self.tested * ((self.static - floor) / self.drop) ** 0.54


@dataclass
class Branch:
    """One line of a parallel group: squared losses, and steps as (flow, psi)."""

    k: float
    steps: list

    def knots(self) -> list:
        """Pressures between which the branch sits at a step: arriving there, and leaving it."""
        found, base = [], 0.0
        for at, fixed in self.steps:
            arrive = self.k * (at / 100) ** 2 + base
            found += [arrive, arrive + fixed]
            base += fixed
        return found

    def flow(self, p: float) -> float:
        """Largest flow whose own loss is at most `p`."""
        base = 0.0
        for at, fixed in self.steps:
            arrive = self.k * (at / 100) ** 2 + base
            if p < arrive:
                break
            if p < arrive + fixed:
                return at
            base += fixed
        return 100 * sqrt(max(p - base, 0.0) / self.k)


class Group:
    """Unequal lines side by side: one loss common to all, found from the flow."""

    def __init__(self, branches: list):
        self.branches = branches
        self.knots = [0.0] + sorted(p for b in branches for p in b.knots())

    def total(self, p: float) -> float:
        return sum(b.flow(p) for b in self.branches)

    def loss(self, q: float) -> float:
        # The last knot still within the flow is past any stretch where every branch sits at a step,
        # so what is left is a strictly rising piece with one answer: the largest loss.
        i = max(i for i, p in enumerate(self.knots) if self.total(p) <= q)
        lo = self.knots[i]
        hi = self.knots[i + 1] if i + 1 < len(self.knots) else 2 * lo + 1.0
        while self.total(hi) <= q:
            hi *= 2
        return root(lambda p: self.total(p) - q, lo, hi)

    def breaks(self) -> list:
        return [self.total(p) for p in self.knots[1:]]


@dataclass
class Section:
    """All that lies between two stations, as one loss with its signed rise."""

    k: float = 0.0
    steps: list = field(default_factory=list)
    groups: list = field(default_factory=list)
    feet: float = 0.0

    def loss(self, q: float) -> float:
        stepped = sum(fixed for at, fixed in self.steps if q >= at)
        grouped = sum(g.loss(q) for g in self.groups)
        return self.k * (q / 100) ** 2 + stepped + grouped + PSI_PER_FT * self.feet

    def breaks(self) -> list:
        return [at for at, _ in self.steps] + [q for g in self.groups for q in g.breaks()]


def squares_and_steps(parts: list) -> tuple:
    k, steps = 0.0, []
    for part in parts:
        if part["kind"] == "hose":
            k += part["loss_coefficient"] * part["length_ft"] / 100 / part["lines"] ** 2
        elif "fixed_loss_psi" in part:
            steps.append((part["at_or_above_gpm"], part["fixed_loss_psi"]))
        else:
            k += part["loss_coefficient"]
    return k, sorted(steps)


def section(parts: list) -> Section:
    k, steps = squares_and_steps([p for p in parts if p["kind"] in ("hose", "appliance")])
    groups = [
        Group([Branch(*squares_and_steps(b["parts"])) for b in p["branches"]]) for p in parts if p["kind"] == "parallel"
    ]
    return Section(k, steps, groups, sum(p["feet"] for p in parts if p["kind"] == "rise"))


def rating(part: dict) -> float:
    if part["kind"] == "parallel":
        return min(rating(p) for b in part["branches"] for p in b["parts"])
    marks = [part.get("max_operating_psi", inf)]
    if "service_test_psi" in part:
        marks.append(SERVICE_TEST_SHARE * part["service_test_psi"])
    return min(marks)


def ceiling(parts: list, department: float) -> float:
    """Highest discharge the section may be given, nozzles shut.

    A hose may lie anywhere between the hose before it and the hose after it, so it is judged at the lowest ground
    there; an appliance is judged where it stands.
    """
    elevation = [0.0]
    for part in parts:
        elevation.append(elevation[-1] + (part["feet"] if part["kind"] == "rise" else 0.0))
    hoses = [i for i, p in enumerate(parts) if p["kind"] in ("hose", "parallel")]
    least = department
    for n, i in enumerate(hoses):
        start = hoses[n - 1] + 1 if n else 0
        end = hoses[n + 1] if n + 1 < len(hoses) else len(parts)
        least = min(least, rating(parts[i]) + PSI_PER_FT * min(elevation[start : end + 1]))
    for i, part in enumerate(parts):
        if part["kind"] == "appliance":
            least = min(least, rating(part) + PSI_PER_FT * elevation[i])
    return least


def net_pressure(rated: float, q: float) -> float:
    """Below half the rating the pump stays at its first point, past its last point at its last."""
    share = q / rated
    if share <= PUMP_POINTS[0][0]:
        return PUMP_POINTS[0][1]
    for (s0, p0), (s1, p1) in zip(PUMP_POINTS, PUMP_POINTS[1:]):
        if share <= s1:
            return p0 + (p1 - p0) * (share - s0) / (s1 - s0)
    return PUMP_POINTS[-1][1]


def largest_flow(margin: Callable[[float], float], breaks: list) -> Optional[float]:
    """Supremum of the flows where a falling `margin` is not negative; None where it never turns negative."""
    if margin(0.0) < 0:
        return 0.0
    lo = 0.0
    for at in sorted(set(b for b in breaks if b > 0)):
        under = at * (1 - 1e-13)
        if under > lo and margin(under) < 0:
            return root(margin, lo, under)
        if margin(at) < 0:
            return at
        lo = at
    hi = max(2 * lo, 100.0)
    while margin(hi) >= 0:
        lo, hi = hi, 2 * hi
        if hi > 1e9:
            return None
    return root(margin, lo, hi)


@dataclass
class Answer:
    flow: float
    limited_by: str
    accepted: set  # names that tie with it within TIE


class Line:
    """A lay whose valve legs are already plain losses: source, parts, and pumpers where they stand."""

    def __init__(self, main: Main, parts: list, main_floor: float, scene_floor: float):
        self.main, self.main_floor, self.scene_floor = main, main_floor, scene_floor
        pieces, self.pumpers = [[]], []
        if main.body:
            pieces[0].append({"kind": "appliance", "loss_coefficient": main.body})
        for part in parts:
            if part["kind"] == "pumper":
                self.pumpers.append(part)
                pieces.append([])
            else:
                pieces[-1].append(part)
        self.sections = [section(p) for p in pieces]
        self.ceilings = [
            ceiling(p, pumper.get("max_discharge_psi", inf)) for p, pumper in zip(pieces[1:], self.pumpers)
        ]

    def floor(self, station: int) -> float:
        if station == len(self.pumpers):
            return self.scene_floor
        return self.pumpers[station].get("intake_floor_psi", DEFAULT_FLOOR_PSI)

    def arriving(self, station: int, q: float) -> float:
        p = self.main.pressure(q) - self.sections[0].loss(q)
        for i in range(station):
            net = net_pressure(self.pumpers[i]["rated_flow_gpm"], q)
            p = min(self.ceilings[i], p + net) - self.sections[i + 1].loss(q)
        return p

    def breaks(self, station: int) -> list:
        return [q for s in self.sections[: station + 1] for q in s.breaks()]

    def limits(self) -> list:
        """(name, flow or None), nearest the source first."""
        first = largest_flow(lambda q: self.arriving(0, q) - self.floor(0), self.breaks(0))
        if self.main.drop == 0 and first is not None and first > self.main.tested:
            first = None
        found = [("main_floor", self.main.floor_flow(self.main_floor))]
        found.append(("pumper_intake" if self.pumpers else "scene_intake", first))
        for i, pumper in enumerate(self.pumpers):
            after, floor, rated = self.sections[i + 1], self.floor(i + 1), pumper["rated_flow_gpm"]
            hose = None
            if self.ceilings[i] < inf:
                hose = largest_flow(lambda q: self.ceilings[i] - after.loss(q) - floor, after.breaks())
            power = largest_flow(
                lambda q: self.arriving(i, q) + net_pressure(rated, q) - after.loss(q) - floor, self.breaks(i + 1)
            )
            found += [("hose_rating", hose), ("pumper_capacity", rated if power is None else min(power, rated))]
        return found

    def answer(self) -> Answer:
        bound = [(name, flow) for name, flow in self.limits() if flow is not None]
        flow = min(q for _, q in bound)
        name = next(n for n, q in bound if q <= flow * (1 + SAME))
        # A limit of exactly 0 was decided by a sign at no flow, not by nearness, so order alone settles those ties.
        near = {n for n, q in bound if q <= flow * (1 + TIE)} if flow > 0 else {name}
        return Answer(flow, name, near)


@dataclass
class Solution:
    main_limit: float
    alone: Answer
    boosted: Optional[Answer]
    as_written: bool
    codes_alone: list  # the exact code first, then any a hair's breadth away
    codes_boosted: list

    @property
    def best(self) -> Answer:
        return self.boosted or self.alone

    @property
    def codes_top(self) -> list:
        return self.codes_boosted if self.as_written else self.codes_alone


def leg(part: dict, name: str) -> dict:
    return {"kind": "appliance", "loss_coefficient": part[name]}


def through(parts: list) -> list:
    return [leg(p, "through_coefficient") if p["kind"] == "hydrant_valve" else p for p in parts]


def with_boost(parts: list, boost: dict) -> list:
    pumper = {"kind": "pumper", **boost}
    for i, part in enumerate(parts):
        if part["kind"] == "hydrant_valve":
            legs = [leg(part, "to_pump_coefficient"), pumper, leg(part, "from_pump_coefficient")]
            return parts[:i] + legs + parts[i + 1 :]
    return [pumper] + parts


def larger(alone: Answer, pumped: Answer) -> Answer:
    """Through a valve the line falls back to hydrant pressure, so a boost never delivers less."""
    best = alone if alone.flow > pumped.flow * (1 + SAME) else pumped
    near = best.accepted
    if best.flow > 0 and abs(alone.flow - pumped.flow) <= TIE * best.flow:
        near = alone.accepted | pumped.accepted
    return Answer(best.flow, best.limited_by, near)


def diagnose(flow: float, s: dict, binding: str, nudge: float) -> str:
    """`nudge` moves the thresholds by a relative hair, to see whether the code hangs on it."""
    if s["target"] is not None:
        wanted = s["target"] * (1 + nudge)
        if flow >= wanted:
            return "met"
        if wanted > s["main"]:
            return "water"
        return "friction" if s["alone"] < wanted <= s["best"] else CAUSE[binding]
    worth = max(0.10 * flow, 50.0) * (1 + nudge)
    if s["best"] - flow >= worth:
        return "friction"
    # A pumper that is no help is no empty main: what binds it is named while the main has more to give.
    return CAUSE[binding] if s["main"] - flow >= worth else "water"


def codes(flow: float, s: dict, best: Answer) -> list:
    names = [best.limited_by] + sorted(best.accepted - {best.limited_by})
    seen = [diagnose(flow, s, name, nudge) for name in names for nudge in (0.0, TIE, -TIE)]
    # A test without a drop proves its flow and says nothing of more: that is no empty main.
    seen = ["unproved" if code == "water" and s["no_drop"] else code for code in seen]
    return list(dict.fromkeys(seen))


def solve(request: dict) -> Solution:
    main, parts = Main(request["source"]), request["parts"]
    floors = request.get("main_floor_psi", DEFAULT_FLOOR_PSI), request.get("scene_floor_psi", DEFAULT_FLOOR_PSI)
    plain = through(parts)
    alone = Line(main, [p for p in plain if p["kind"] != "pumper"], *floors).answer()
    as_written = any(p["kind"] == "pumper" for p in parts)
    boosted = None
    if as_written:
        boosted = Line(main, plain, *floors).answer()
    elif "boost" in request:
        boosted = larger(alone, Line(main, with_boost(parts, request["boost"]), *floors).answer())
    main_limit = main.floor_flow(floors[0])
    s = {
        "target": request.get("target_flow_gpm"),
        "main": main_limit,
        "alone": alone.flow,
        "best": boosted.flow if boosted else main_limit,
        "no_drop": main.drop == 0,
    }
    best = boosted or alone
    codes_alone = codes(alone.flow, s, best)
    codes_boosted = codes(boosted.flow, s, best) if boosted else []
    return Solution(main_limit, alone, boosted, as_written, codes_alone, codes_boosted)
