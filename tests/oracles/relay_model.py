"""Second solver for relays, drafts and shuttles, written from the prose of the model alone.

It shares no code and no method with the service.  A relay is walked along the ground in small exact pieces: every function of distance is straight
between its knots, and the places are found by scipy's brentq; what the whole would carry is found by bisection on the flow of a forward walk.
Units are gpm, psi, ft, gal, min and mi.
"""

from math import inf, sqrt

import numpy as np
from scipy.optimize import brentq

PSI_PER_FT = 0.434
SERVICE_TEST_SHARE = 0.9
PUMP_SHARES = np.array([0.5, 0.7, 1.0])
PUMP_PSI = np.array([250.0, 200.0, 150.0])
MOST_PUMPERS = 24
CUSTOMARY_PSI = 175.0
# Nearer than this two solvers of honest but different rounding cannot tell numbers apart.
TIE = 1e-7


class Pump:
    def __init__(self, asked: dict, share: float = 1.0):
        self.rated = asked["rated_flow_gpm"] * share
        self.floor = asked.get("intake_floor_psi", 20.0)
        self.ceiling = asked.get("max_discharge_psi", inf)
        self.capacity = self.rated

    def net(self, q: float) -> float:
        return float(np.interp(q / self.rated, PUMP_SHARES, PUMP_PSI))


# --- open water -----------------------------------------------------------------------------------------------------


def lift_figures(place: dict) -> dict:
    thousands = place.get("altitude_ft", 0.0) / 1000
    theoretical = 33.9 - thousands
    attainable = min(theoretical * 2 / 3, 25.0)
    dependable = 14.7 - thousands
    lift = place["lift_ft"]
    as_at_sea_level = lift + thousands
    share = None if as_at_sea_level > 20 else float(np.interp(as_at_sea_level, [15, 20], [0.7, 0.6]))
    verdict = "not_attainable" if lift > attainable else "attainable" if lift > dependable else "dependable"
    return {"attainable": attainable, "share": share, "verdict": verdict, "theoretical": theoretical}


def suction_psi(place: dict, q: float) -> float:
    return PSI_PER_FT * place["lift_ft"] + place.get("suction_loss_coefficient", 0.0) * (q / 100) ** 2


def draft_capacity(place: dict, rated: float):
    figures = lift_figures(place)
    if figures["verdict"] == "not_attainable":
        return 0.0
    if figures["share"] is None:
        return None
    held = lambda q: PSI_PER_FT * figures["attainable"] - suction_psi(place, q)
    by_share = figures["share"] * rated
    return by_share if held(by_share) >= 0 else brentq(held, 0, by_share, xtol=1e-12)


# --- relays ---------------------------------------------------------------------------------------------------------


class Relay:
    def __init__(self, ask: dict):
        self.ask = ask
        self.distance = ask["distance_ft"]
        points = ask.get("ground") or [
            {"distance_ft": 0.0, "elevation_ft": 0.0},
            {"distance_ft": self.distance, "elevation_ft": ask["rise_ft"]},
        ]
        self.knots = np.array([p["distance_ft"] for p in points])
        self.heights = np.array([p["elevation_ft"] for p in points])
        hose = ask["hose"]
        self.c = hose["loss_coefficient"] / hose.get("lines", 1) ** 2
        self.rating = min(
            hose.get("max_operating_psi", inf), SERVICE_TEST_SHARE * hose.get("service_test_psi", inf)
        )
        self.scene_floor = ask.get("scene_floor_psi", 20.0)
        self.main_floor = ask.get("main_floor_psi", 20.0)
        self.source = ask["source"]
        self.draft = self.source.get("draft")
        self.constant = None
        if ask["method"] == "constant_pressure":
            self.constant = ask.get("constant_discharge_psi", CUSTOMARY_PSI)

    def pump(self, i: int):
        """Pumper i from 0 at the source."""
        if "pumpers" in self.ask:
            return Pump(self.ask["pumpers"][i]) if i < len(self.ask["pumpers"]) else None
        return Pump(self.ask["typical_pumper"]) if i < MOST_PUMPERS else None

    def count(self) -> int:
        return len(self.ask["pumpers"]) if "pumpers" in self.ask else MOST_PUMPERS

    def height(self, x: float) -> float:
        return float(np.interp(x, self.knots, self.heights))

    def inner(self, a: float, b: float):
        return self.knots[(self.knots > a) & (self.knots < b)]

    def lowest(self, a: float, b: float) -> float:
        return min([self.height(a), self.height(b)] + [self.height(x) for x in self.inner(a, b)])

    def friction(self, q: float) -> float:
        return self.c * (q / 100) ** 2 / 100

    def lost(self, q: float, a: float, b: float) -> float:
        return self.friction(q) * (b - a) + PSI_PER_FT * (self.height(b) - self.height(a))

    def ceiling(self, a: float, b: float) -> float:
        return self.rating + PSI_PER_FT * (self.lowest(a, b) - self.height(a))

    def first(self, q: float):
        """(intake, net at hand, capacity, holds) of the pumper at the source; None where no figure is known."""
        pump = self.pump(0)
        if self.draft is not None:
            capacity = draft_capacity(self.draft, pump.rated)
            if capacity is None:
                return "lift_unknown"
            if capacity == 0.0:
                return "lift_not_attainable"
            scaled = Pump(self.ask.get("typical_pumper") or self.ask["pumpers"][0], lift_figures(self.draft)["share"])
            if q > capacity:
                return "pumper_too_small"
            return -suction_psi(self.draft, q), scaled.net(q)
        s = self.source
        main = s["static_psi"] - (s["static_psi"] - s["residual_psi"]) * (q / s["flow_gpm"]) ** (1 / 0.54)
        proved = s["residual_psi"] < s["static_psi"] or q <= s["flow_gpm"]
        intake = main - s.get("body_loss_coefficient", 0.0) * (q / 100) ** 2
        if main < self.main_floor or not proved or intake < pump.floor:
            return "source_too_weak"
        if q > pump.capacity:
            return "pumper_too_small"
        return intake, pump.net(q)

    def reach(self, q: float, a: float, free: float, floor: float) -> float:
        """Farthest place up to which nowhere is less than the floor, with the discharge lowered for the lowest ground passed."""

        def spare(x: float) -> float:
            return min(free, self.ceiling(a, x)) - self.lost(q, a, x) - floor

        # Spare pressure can only turn at knots, and where a fall goes under all ground before it: those are the knots of the lowest ground.
        edges = [a]
        for x in list(self.inner(a, self.distance)) + [self.distance]:
            lowest = self.lowest(a, edges[-1])
            if self.height(x) < lowest < self.height(edges[-1]):
                edges.append(brentq(lambda y: self.height(y) - lowest, edges[-1], x, xtol=1e-12))
            edges.append(x)
        if spare(a) < 0:
            return a
        for left, right in zip(edges, edges[1:]):
            if spare(right) < 0:
                return brentq(spare, left, right, xtol=1e-11, rtol=1e-15)
        return self.distance

    def farthest(self) -> dict:
        q = self.ask["target_flow_gpm"]
        begun = self.first(q)
        if isinstance(begun, str):
            return {"code": begun, "pumpers": []}
        (intake, net), at, placed = begun, 0.0, []
        for i in range(MOST_PUMPERS + 1):
            pump, following = self.pump(i), self.pump(i + 1)
            free = min(intake + net, pump.ceiling)
            row = {"at": at, "intake": intake, "net_available": net}
            if self.reach(q, at, free, self.scene_floor) >= self.distance:
                ways = [self.lost(q, at, x) for x in [*self.inner(at, self.distance), self.distance]]
                most = min(free, self.ceiling(at, self.distance))
                needed = min(max(self.scene_floor + max(0.0, *ways), intake), most)
                placed.append(row | {"discharge": needed, "stretch": self.distance - at})
                spare = most - self.lost(q, at, self.distance) - self.scene_floor
                return {
                    "code": None,
                    "pumpers": placed,
                    "scene": needed - self.lost(q, at, self.distance),
                    "spare_ft": min(max(spare, 0.0) / self.friction(q), 100_000.0),
                }
            if following is None:
                return {"code": "pumpers_run_out", "pumpers": None}
            to = min(self.reach(q, at, free, following.floor), self.distance - 1)
            if abs(to - at - 1) < TIE:
                return {"code": "tie", "pumpers": None}
            if to - at < 1:
                return {"code": "reaches_nowhere", "pumpers": placed}
            discharge = min(free, self.ceiling(at, to))
            placed.append(row | {"discharge": discharge, "stretch": to - at})
            intake, at = discharge - self.lost(q, at, to), to
            if q > following.capacity:
                return {"code": "pumper_too_small", "pumpers": placed}
            net = following.net(q)
        return {"code": "pumpers_run_out", "pumpers": None}

    def spaced(self) -> dict:
        q, p = self.ask["target_flow_gpm"], self.constant
        code = "pumpers_run_out"
        for count in range(1, self.count() + 1):
            code, placed = self.spaced_by(q, p, count)
            if code == "tie":
                return {"code": "tie", "pumpers": None}
            if code is None:
                scene = p - self.lost(q, placed[-1]["at"], self.distance)
                spare = max(scene - self.scene_floor, 0.0) / self.friction(q)
                return {"code": None, "pumpers": placed, "scene": scene, "spare_ft": min(spare, 100_000.0)}
        return {"code": code, "pumpers": None}

    def spaced_by(self, q: float, p: float, count: int) -> tuple:
        begun = self.first(q)
        if isinstance(begun, str):
            return begun, []
        intake, net = begun
        placed, fault = [], None
        for i in range(count):
            pump = self.pump(i)
            if i and q > pump.capacity:
                return "pumper_too_small", placed
            if i:
                net = pump.net(q)
            a, b = self.distance * i / count, self.distance * (i + 1) / count
            floor = self.scene_floor if i == count - 1 else self.pump(i + 1).floor
            own = min(self.ceiling(a, b), pump.ceiling)
            least = min(p - self.lost(q, a, x) for x in [a, *self.inner(a, b), b])
            margins = (own - p, intake + net - p, least - floor)
            if min(abs(m) for m in margins) < TIE:
                return "tie", []
            found = None
            if p > min(own, intake + net):
                found = "net_too_small" if intake + net <= own else "discharge_over_ceiling"
            elif least < floor:
                found = "intake_under_floor"
            fault = fault or found
            placed.append({"at": a, "intake": intake, "net_available": net, "discharge": p, "stretch": b - a})
            intake = p - self.lost(q, a, b)
        return fault, placed

    def most(self, placed: list) -> float:
        """The largest flow that these places carry: a forward walk with everyone doing the most he may, and bisection."""

        def holds(q: float) -> bool:
            begun = self.first(q)
            if isinstance(begun, str):
                return False
            psi, net = begun
            for i, row in enumerate(placed):
                pump = self.pump(i)
                if i:
                    if q > pump.capacity:
                        return False
                    net = pump.net(q)
                a, b = row["at"], row["at"] + row["stretch"]
                ceiling = min(self.ceiling(a, b), pump.ceiling if self.constant is None else self.constant)
                psi = min(psi + net, ceiling) - self.lost(q, a, b)
                floor = self.scene_floor if i == len(placed) - 1 else self.pump(i + 1).floor
                if psi < floor:
                    return False
            return True

        low, high = 0.0, 50_000.0
        for _ in range(80):
            middle = (low + high) / 2
            low, high = (middle, high) if holds(middle) else (low, middle)
        return low


def relay(ask: dict) -> dict:
    model = Relay(ask)
    answer = model.farthest() if model.constant is None else model.spaced()
    if answer["code"] is None:
        answer["most"] = model.most(answer["pumpers"])
    return answer


# --- drafts and shuttles --------------------------------------------------------------------------------------------


def draft(ask: dict) -> dict:
    capacity = draft_capacity(ask, ask["pumper"]["rated_flow_gpm"])
    figures = lift_figures(ask)
    answer = {"capacity": capacity, "verdict": figures["verdict"], "discharge": None}
    if capacity:
        net = Pump(ask["pumper"], figures["share"]).net(capacity)
        answer["discharge"] = min(net - suction_psi(ask, capacity), ask["pumper"].get("max_discharge_psi", inf))
    return answer


def shuttle(ask: dict) -> dict:
    def sustained(tankers: list) -> float:
        fill, dump, rate = 0.0, 0.0, 0.0
        for t in tankers:
            driven = t["round_trip_mi"] if "round_trip_mi" in t else 2 * t["one_way_mi"]
            cycle = t["fill_min"] + t["dump_min"] + 0.65 + 1.7 * driven
            fill, dump, rate = fill + t["fill_min"] / cycle, dump + t["dump_min"] / cycle, rate + 0.9 * t["tank_gal"] / cycle
        limits = [rate]
        if "fill_sites" in ask:
            limits.append(rate * ask["fill_sites"] / fill)
            if "fill_flow_gpm" in ask:
                limits.append(ask["fill_sites"] * ask["fill_flow_gpm"])
        if "dump_sites" in ask:
            limits.append(rate * ask["dump_sites"] / dump)
        return min(limits)

    tankers = ask["tankers"]
    alone = [sustained_alone(t) for t in tankers]
    least = tankers[alone.index(min(alone))]
    needed = None
    crew = []
    for n in range(1, 201):
        crew.append(tankers[n - 1] if n <= len(tankers) else least)
        if sustained(crew) >= ask["target_flow_gpm"]:
            needed = n
            break
    return {"flow": sustained(tankers), "needed": needed}


def sustained_alone(t: dict) -> float:
    driven = t["round_trip_mi"] if "round_trip_mi" in t else 2 * t["one_way_mi"]
    return 0.9 * t["tank_gal"] / (t["fill_min"] + t["dump_min"] + 0.65 + 1.7 * driven)
