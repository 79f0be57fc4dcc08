"""Holds the service's drills against a second model: what the gauges should read, and what the drills make of the figures.

  python drill_oracle.py --url http://127.0.0.1:PORT --count 60 --seed 1

Records equipment of its own and seeded drills with noise on every gauge, then re-estimates all figures at once in the other form of the
update: c + S A' (A S A' + R)^-1 (read - predicted), with numpy, and with A from complex steps instead of formulas.  Prints one JSON line.
Exits 1 on any mismatch or on thin coverage.
"""

import argparse
import json
import random
import sys
import urllib.request
from dataclasses import dataclass, field

import numpy as np

REL_TOL = 1e-7
DEVIATIONS = 1.645  # of a normal distribution, on each side, hold 90 %
GAUGES_PSI = np.sqrt(2.0)  # two gauges, each 1 psi off
HOSE_SHARE, LOSS_SHARE = 0.35, 0.60  # the wider sides: a handbook's hose, and any loss that was not tested
HOSE_BOUNDS, LOSS_BOUNDS = (0.001, 5000.0), (0.0, 1000.0)
PSI_PER_FOOT = 0.434

HOSES = {"oracle-5in": 0.08, "oracle-4in": 0.2, "oracle-3in": 0.8}
MANIFOLD, VALVE = "oracle-manifold", "oracle-valve"
LEGS = {"through": 0.2, "to_pump": 0.1, "from_pump": 0.04}


def figures() -> dict:
    """Each figure as (value, share it may be off, bounds)."""
    found = {("hose_type", name, None): (c, HOSE_SHARE, HOSE_BOUNDS) for name, c in HOSES.items()}
    found["appliance", MANIFOLD, None] = (0.1, LOSS_SHARE, LOSS_BOUNDS)
    found.update({("hydrant_valve", VALVE, leg): (k, LOSS_SHARE, LOSS_BOUNDS) for leg, k in LEGS.items()})
    return found


@dataclass
class Section:
    """What lies between the main or a pumper and the next gauge: losses as functions of all figures and the flow."""

    start: str
    end: str
    losses: list = field(default_factory=list)
    rise_ft: float = 0.0

    def loss(self, figures: dict, gpm: float):
        return sum(loss(figures, gpm / 100) for loss in self.losses)


def hose_loss(key, length, lines):
    return lambda figures, q: figures[key] * (q / lines) ** 2 * length / 100


def squared_loss(key):
    return lambda figures, q: figures[key] * q**2


def parallel_loss(branches):
    """Equal loss in every branch, the flows summing up."""

    def loss(figures, q):
        one = [sum(piece(figures, 1.0) for piece in branch) for branch in branches]
        return (q / sum(1 / np.sqrt(r) for r in one)) ** 2

    return loss


class Drills:
    def __init__(self, seed: int):
        self.r = random.Random(seed)
        self.seen = {}

    def chance(self, share: float, what: str) -> bool:
        hit = self.r.random() < share
        self.seen[what] = self.seen.get(what, 0) + hit
        return hit

    def hose(self, own: dict, at: tuple):
        """A part and its loss; one given by numbers is a figure of this drill alone."""
        length, lines = round(self.r.uniform(200, 900), 1), self.r.choice((1, 1, 2))
        part = {"kind": "hose", "length_ft": length, "lines": lines}
        if self.chance(0.25, "by_numbers"):
            key = at
            own[key] = (round(self.r.uniform(0.06, 0.3), 4), HOSE_SHARE, HOSE_BOUNDS)
            part["loss_coefficient"] = own[key][0]
        else:
            name = self.r.choice(list(HOSES))
            key = ("hose_type", name, None)
            part["hose_type_id"] = name
        return part, hose_loss(key, length, lines)

    def lay(self, number: int):
        own = {("body", number): (round(self.r.uniform(0.02, 0.08), 4), LOSS_SHARE, LOSS_BOUNDS)}
        source = {
            "static_psi": round(self.r.uniform(60, 110), 2),
            "flow_gpm": round(self.r.uniform(800, 2500), 1),
            "body_loss_coefficient": own["body", number][0],
        }
        source["residual_psi"] = round(source["static_psi"] * self.r.uniform(0.5, 0.85), 2)
        boosted, valve = self.chance(0.5, "boosted"), self.chance(0.5, "valve")
        request, parts = {"source": source}, []
        body = Section("main", "hydrant", [squared_loss(("body", number))])
        first = Section("hydrant", "pumper_1_intake" if boosted else "scene")
        sections = [body, first]
        if boosted:
            request["boost"] = {"rated_flow_gpm": 2000.0}
            sections.append(Section("pumper_1_discharge", "scene"))
        rest = sections[-1]
        if valve:
            parts.append({"kind": "hydrant_valve", "hydrant_valve_id": VALVE})
            leg = lambda name: squared_loss(("hydrant_valve", VALVE, name))
            if boosted:
                first.losses.append(leg("to_pump"))
                rest.losses.append(leg("from_pump"))
            else:
                first.losses.append(leg("through"))
        for i in range(self.r.randint(1, 3)):
            if self.chance(0.3, "parallel"):
                branches, losses = [], []
                for b in range(2):
                    part, loss = self.hose(own, (number, i, b))
                    branches.append({"parts": [part]})
                    losses.append([loss])
                    if self.chance(0.3, "appliance_in_a_branch"):
                        branches[-1]["parts"].append({"kind": "appliance", "appliance_id": MANIFOLD})
                        losses[-1].append(squared_loss(("appliance", MANIFOLD, None)))
                parts.append({"kind": "parallel", "branches": branches})
                rest.losses.append(parallel_loss(losses))
            else:
                part, loss = self.hose(own, (number, i))
                parts.append(part)
                rest.losses.append(loss)
            if self.chance(0.4, "rise"):
                feet = round(self.r.uniform(-20, 30), 1)
                parts.append({"kind": "rise", "feet": feet})
                rest.rise_ft += feet
        if self.chance(0.5, "appliance"):
            parts.append({"kind": "appliance", "appliance_id": MANIFOLD})
            rest.losses.append(squared_loss(("appliance", MANIFOLD, None)))
        request["parts"] = parts
        return request, sections, own

    def drill(self, number: int):
        """A request, what each gauge should read, and the rows it gives: (read loss, section, flow, uncertainty, own figures)."""
        request, sections, own = self.lay(number)
        gpm, percent = round(self.r.uniform(250, 700), 1), round(self.r.uniform(1, 8), 2)
        values = {key: value for key, (value, _, _) in (figures() | own).items()}
        source = request["source"]
        drop = source["static_psi"] - source["residual_psi"]
        psi = source["static_psi"] - drop * (gpm / source["flow_gpm"]) ** (1 / 0.54)
        predicted, readings = {"main": psi}, {}
        for section in sections:
            if section.start == "pumper_1_discharge":
                psi = predicted[section.start] = readings[section.start] = round(self.r.uniform(120, 300), 1)
            psi = psi - section.loss(values, gpm) - PSI_PER_FOOT * section.rise_ft
            predicted[section.end] = psi
        for station, psi in predicted.items():
            if station not in readings and (station == "scene" or self.chance(0.7, "read_" + station)):
                readings[station] = round(min(max(psi + self.r.gauss(0, 2), 0.0), 1000.0), 2)
        # A gauge on its peg tells no loss, and a drill of nothing else is refused.
        told = {station: psi for station, psi in readings.items() if psi > 0}
        if not told.keys() - {"pumper_1_discharge"}:
            return self.drill(number)
        rows, start, losses, rise_ft = [], None, [], 0.0
        for section in sections:
            if section.start in told:
                start, losses, rise_ft = section.start, [], 0.0
            elif section.start in ("main", "pumper_1_discharge"):
                start = None
            losses, rise_ft = losses + section.losses, rise_ft + section.rise_ft
            if start is not None and section.end in told:
                lost = told[start] - told[section.end] - PSI_PER_FOOT * rise_ft
                rows.append((lost, Section(start, section.end, losses), gpm, percent, own, number))
                start = None
        body = {
            "drilled_on": "2026-01-15",
            "lay": request,
            "flow_gpm": gpm,
            "flow_uncertainty_percent": percent,
            "readings": [{"station": station, "pressure_psi": psi} for station, psi in readings.items()],
        }
        return body, predicted, rows


def slope(section: Section, values: dict, key, gpm: float) -> float:
    """What the loss changes with a figure: a complex step, which has no rounding to speak of."""
    step = 1e-30
    return (section.loss(values | {key: complex(values[key], step)}, gpm)).imag / step


def estimated(rows: list) -> dict:
    """Every figure as (estimate, low, high, readings, drills)."""
    known = figures()
    keys = list(known)
    held = np.array([known[key][0] for key in keys])
    deviations = np.array([known[key][0] * known[key][1] / DEVIATIONS for key in keys])
    matrix, missed, variances, touched = [], [], [], [set() for _ in keys]
    for lost, section, gpm, percent, own, number in rows:
        values = {key: value for key, (value, _, _) in (known | own).items()}
        now = section.loss(values, gpm)
        row = [slope(section, values, key, gpm) for key in keys]
        variance = (GAUGES_PSI**2 + (2 * percent / 100 * now) ** 2) / DEVIATIONS**2
        for key, (value, share, _) in own.items():
            variance += (slope(section, values, key, gpm) * value * share / DEVIATIONS) ** 2
        matrix.append(row)
        missed.append(lost - now)
        variances.append(variance)
        for i, factor in enumerate(row):
            if factor != 0.0:
                touched[i].add(number)
    a, prior = np.array(matrix), np.diag(deviations**2)
    gain = prior @ a.T @ np.linalg.inv(a @ prior @ a.T + np.diag(variances))
    value = held + gain @ np.array(missed)
    half = DEVIATIONS * np.sqrt(np.diag(prior - gain @ a @ prior))
    found = {}
    for i, key in enumerate(keys):
        low, high = known[key][2]
        middle = min(max(value[i], low), high)
        readings = int(np.count_nonzero(a[:, i]))
        found[key] = (middle, max(middle - half[i], low), min(middle + half[i], high), readings, len(touched[i]))
    return found


class Service:
    def __init__(self, url: str):
        self.url = url

    def send(self, method: str, path: str, body=None) -> dict:
        data = None if body is None else json.dumps(body).encode()
        headers = {"Content-Type": "application/json"}
        request = urllib.request.Request(self.url + path, data=data, method=method, headers=headers)
        with urllib.request.urlopen(request) as answer:
            return json.load(answer)

    def equip(self):
        for name, c in HOSES.items():
            hose = {"name": name, "diameter_in": 4.0, "loss_coefficient": c, "source": "oracle"}
            self.send("PUT", f"/v1/hose-types/{name}", hose)
        manifold = {"name": MANIFOLD, "loss_coefficient": 0.1, "source": "oracle"}
        self.send("PUT", f"/v1/appliances/{MANIFOLD}", manifold)
        valve = {f"{leg}_coefficient": k for leg, k in LEGS.items()} | {"name": VALVE, "source": "oracle"}
        self.send("PUT", f"/v1/hydrant-valves/{VALVE}", valve)


def same(ours: float, theirs: float) -> bool:
    return abs(ours - theirs) <= REL_TOL * abs(ours) + 1e-9


def run(url: str, count: int, seed: int) -> int:
    service, drills = Service(url), Drills(seed)
    service.equip()
    mismatches, rows = [], []
    for number in range(count):
        body, predicted, own_rows = drills.drill(number)
        answer = service.send("POST", "/v1/drills", body)
        rows += own_rows
        theirs = {one["station"]: one["pressure_psi"] for one in answer["predicted"]}
        for station in predicted.keys() | theirs.keys():
            if station not in theirs or station not in predicted or not same(predicted[station], theirs[station]):
                mismatches.append({"drill": number, "station": station, "ours": predicted.get(station), "theirs": theirs.get(station)})
        if len(answer["stretches"]) != len(own_rows):
            mismatches.append({"drill": number, "stretches": len(own_rows), "theirs": len(answer["stretches"])})
    answer = service.send("GET", "/v1/drill-estimates")
    theirs = {(one["kind"], one["id"], one.get("leg")): one for one in answer["items"]}
    ours = estimated(rows)
    for key, (value, low, high, readings, own_drills) in ours.items():
        one = theirs.get(key)
        numbers = (value, low, high)
        if one is None or not all(same(a, one[b]) for a, b in zip(numbers, ("estimate", "low", "high"))):
            mismatches.append({"figure": key, "ours": numbers, "theirs": one})
        elif (readings, own_drills) != (one["readings"], one["drills"]):
            mismatches.append({"figure": key, "ours": (readings, own_drills), "theirs": one})
    thin = [what for what, hits in drills.seen.items() if hits < 5] + ["bears on nothing" for f in ours.values() if f[3] < 3]
    for one in mismatches[:20]:
        print(json.dumps(one, default=str), file=sys.stderr)
    moved = {" ".join(filter(None, key)): round(float(found[0]), 5) for key, found in ours.items()}
    print(json.dumps({"drills": count, "readings": len(rows), "mismatches": len(mismatches), "thin": thin, "estimates": moved}))
    return 1 if mismatches or thin else 0


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--url", required=True)
    parser.add_argument("--count", type=int, default=60)
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    return run(asked.url, asked.count, asked.seed)


if __name__ == "__main__":
    sys.exit(main())
