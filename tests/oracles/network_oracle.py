"""Holds a coverage run over a real street network, end to end over HTTP, against models that share nothing with the service.

  python network_oracle.py --binary target/release/longlay --packages FOLDER --places 2000 --sample 300 --seed 1

Starts the service on an empty database and brings in the streets of a real town (their licence: networks.py) with invented hydrants, flow tests and
demand points, all as files; runs coverage; reads every page. Of all points: each is told once, the counts are those of the summary, the cause is
what the figures told say, hydrants and lays are those of street_model.py. Of a sample: figures and low ends are those of lay_model.py, and no other
hydrant brings more. Prints one JSON line; exits 1 on any mismatch.
"""

import argparse
import csv
import io
import json
import math
import random
import re
import subprocess
import sys
import tempfile
import time
import urllib.error
import urllib.request
from collections import Counter, defaultdict
from dataclasses import dataclass
from pathlib import Path

from lay_model import Line, Main, through, with_boost
from networks import Plane, invented, of_model, of_path_finder
from street_model import Streets

HOSE_FT, SECTION_FT, SLACK, PLACE_FT, HYDRANT_FT = 1200.0, 100.0, 1.1, 500.0, 200.0
# Between the service's feet and ours: a lattice, and its plane, which is true to one in a thousand.
TOLERANCE_FT, MARGIN_FT = 1.0 + HOSE_FT / 1000, 0.25 + PLACE_FT / 1000
# The service errs to the low side by less than these, as shares of the figure; the last digits are ours.
UNDER, OVER = 1e-4, 1e-9
HOSE = {"loss_coefficient": 0.074, "max_operating_psi": 185.0, "service_test_psi": 210.0}
VALVE = {"through_coefficient": 0.22, "to_pump_coefficient": 0.1, "from_pump_coefficient": 0.05}
PUMPER = {"rated_flow_gpm": 1250.0, "intake_floor_psi": 20.0, "max_discharge_psi": 180.0}
# How far what goes in may be off where least arrives (GET of any lay's answer, `uncertainties`): psi of the gauge, of the day, of the drop; shares of
# the flow, of hose and of other losses out of a handbook; and psi of the ground where that is not known.
GAUGE, SWING, DROP, FLOW, OF_HOSE, OF_LOSSES, GROUND = 1.0, 5.0, math.sqrt(2), 0.06, 0.10, 0.30, 10.0
CAUSES = (
    "covered covered_if_boosted covered_if_combined out_of_service friction beyond_hose pumper untested water no_hydrant no_need_given not_on_streets"
).split()
NO_GAP = {*CAUSES[:3], "no_need_given"}
PRINTED = 10


@dataclass
class Hydrant:
    id: str
    at: list
    ground: float | None
    in_service: bool
    body: float
    test: dict | None


@dataclass
class Place:
    id: str
    at: list
    ground: float | None
    need: float | None


# --- the town -------------------------------------------------------------------------------------------------------


def town(spots: tuple, plane: Plane, r: random.Random) -> tuple:
    """What stands and is asked for at these feet. Degrees are rounded as a file would have them."""
    maybe = lambda share, value: None if r.random() < share else value
    place_of = lambda spot: [round(deg, 7) for deg in plane.degrees(spot)]
    ground = lambda spot: round(200 + 40 * math.sin(spot[0] / 4000) + 30 * math.cos(spot[1] / 2500) + r.uniform(-5, 5), 1)
    hydrants, places = [], []
    for i, spot in enumerate(spots[0]):
        static = round(r.uniform(45, 100), 1)
        test = {"static_psi": static, "residual_psi": round(static * r.uniform(0.4, 0.92), 1), "flow_gpm": round(r.uniform(350, 2600))}
        own = maybe(0.05, ground(spot)), r.random() > 0.05, round(r.uniform(0.02, 0.2), 3), maybe(0.1, test)
        hydrants.append(Hydrant(f"H-{i:05}", place_of(spot), *own))
    for i, spot in enumerate(spots[1]):
        places.append(Place(f"B-{i:05}", place_of(spot), maybe(0.05, ground(spot)), maybe(0.05, float(r.choice((500, 750, 1000, 1500, 2500))))))
    return hydrants, places


def table(rows: list) -> bytes:
    out = io.StringIO()
    writer = csv.DictWriter(out, rows[0].keys())
    writer.writeheader()
    writer.writerows(rows)
    return out.getvalue().encode()


def street_file(lines: list) -> bytes:
    """With the field names of the NENA data model."""
    features = []
    for i, line in enumerate(lines):
        said = {"RCL_NGUID": f"urn:example:rcl:{i}", "St_Name": f"Number {i}", "St_PosTyp": "Street"}
        said |= {"from_level": line["levels"][0], "to_level": line["levels"][1], "RoadClass": line["barrier"] or "Local"}
        geometry = {"type": "LineString", "coordinates": line["points"]}
        features.append({"type": "Feature", "properties": said, "geometry": geometry})
    return json.dumps({"type": "FeatureCollection", "features": features}).encode()


# --- the service ----------------------------------------------------------------------------------------------------


class Service:
    """On an empty database of its own, until the end of a `with`."""

    def __init__(self, binary: str, folder: Path):
        with open(folder / "said", "w") as said, open(folder / "log", "w") as log:
            command = [binary, "serve", "--database", str(folder / "town.db"), "--listen", "127.0.0.1:0"]
            self.process = subprocess.Popen(command, stdout=said, stderr=log)
        for _ in range(300):
            text = (folder / "said").read_text() + (folder / "log").read_text()
            url, key = re.search(r"http://127\.0\.0\.1:[1-9]\d*", text), re.search(r"longlay_\w+", (folder / "said").read_text())
            if url and key:
                self.url, self.key = url[0], key[0]
                return
            time.sleep(0.1)
        self.process.kill()
        sys.exit(f"the service did not start: {text}")

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self.process.terminate()
        self.process.wait(timeout=30)

    def ask(self, path: str, body=None, kind: str = "application/json", method: str | None = None):
        headers = {"Authorization": f"Bearer {self.key}", "Content-Type": kind}
        data = body if body is None or isinstance(body, bytes) else json.dumps(body).encode()
        url = path if path.startswith("http") else self.url + path
        request = urllib.request.Request(url, data, headers, method=method)
        try:
            with urllib.request.urlopen(request, timeout=120) as response:
                return json.load(response)
        except urllib.error.HTTPError as error:
            sys.exit(f"{path}: {error.code} {error.read().decode()}")

    def fill(self, lines: list, hydrants: list, places: list) -> None:
        put = lambda path, body: self.ask(path, body, method="PUT")
        said = {"name": "of the oracle", "source": "the oracle"}
        put("/v1/hose-types/five", {**HOSE, **said, "diameter_in": 5})
        put("/v1/hydrant-valves/valve", {**VALVE, **said})
        put("/v1/pumpers/engine", {**PUMPER, "name": "Engine", "hose": [{"hose_type_id": "five", "length_ft": HOSE_FT}]})
        put("/v1/lay-profiles/lay", {"name": "Lay", "hydrant_valve_id": "valve", "hose_type_id": "five", "lines": 1, "carried_ft": HOSE_FT})
        self.ask("/v1/imports/streets", street_file(lines), "application/geo+json")
        told = [{"lon": own.at[0], "lat": own.at[1], "elevation_ft": own.ground} for own in hydrants + places]
        more = [
            {"hydrant_id": own.id, "body_loss_coefficient": own.body, "in_service": "yes" if own.in_service else "no", "owner": "public", "potable": "yes"}
            for own in hydrants
        ]
        self.ask("/v1/imports/hydrants", table([a | b for a, b in zip(told, more)]), "text/csv")
        tests = [{"hydrant_id": own.id, "tested_on": "2026-05-14", **own.test} for own in hydrants if own.test]
        self.ask("/v1/imports/flow-tests", table(tests), "text/csv")
        more = [{"demand_point_id": own.id, "needed_flow_gpm": own.need} for own in places]
        self.ask("/v1/imports/demand-points", table([a | b for a, b in zip(told[len(hydrants) :], more)]), "text/csv")

    def run(self) -> dict:
        run = self.ask("/v1/coverage-runs", {"lay_profile_id": "lay", "boost_pumper_id": "engine"})
        while run["status"] in ("queued", "running"):
            time.sleep(0.2)
            run = self.ask(f"/v1/coverage-runs/{run['id']}")
        if run["status"] != "done":
            sys.exit(f"the run ended {run['status']}: {run['failure']}")
        return run

    def points(self, run: dict, causes: str = "") -> list:
        found, page = [], f"/v1/coverage-runs/{run['id']}/gaps?limit=700{causes}"
        while page:
            answer = self.ask(page)
            found += [feature["properties"] for feature in answer["features"]]
            page = answer["next"]
        return found


# --- what should come out -------------------------------------------------------------------------------------------


def line_of(hydrant: Hydrant, place: Place, feet: float, off: str | None, boosted: bool) -> Line:
    """The lay, with one of what goes into it at its worse end."""
    known = hydrant.ground is not None and place.ground is not None
    less = {"gauge": GAUGE, "swing": SWING if known else math.hypot(SWING, GROUND)}.get(off, 0.0)
    losses = 1 + OF_LOSSES if off == "losses" else 1.0
    static, residual = hydrant.test["static_psi"], hydrant.test["residual_psi"]
    source = {
        "static_psi": static - less,
        "residual_psi": residual - less - (DROP if off == "drop" else 0),
        "flow_gpm": hydrant.test["flow_gpm"] * (1 - FLOW if off == "flow" else 1),
        "body_loss_coefficient": hydrant.body * losses,
    }
    hose = {**HOSE, "kind": "hose", "length_ft": feet, "lines": 1}
    hose["loss_coefficient"] *= 1 + OF_HOSE if off == "hose" else 1
    parts = [{"kind": "hydrant_valve", **{name: k * losses for name, k in VALVE.items()}}, hose]
    if known:
        parts.append({"kind": "rise", "feet": place.ground - hydrant.ground})
    return Line(Main(source), with_boost(parts, PUMPER) if boosted else through(parts), 20.0, 20.0)


def low_of(figures: list) -> float:
    """The low end: each input by itself at its worse end, what they take of the figure added up as squares."""
    return max(figures[0] - math.sqrt(sum(max(figures[0] - other, 0) ** 2 for other in figures[1:])), 0)


def arrives(hydrant: Hydrant, place: Place, feet: float) -> dict:
    """Figure and low end, alone and boosted. No low end is over that of any limit by itself."""
    cases = [None, "gauge", "swing", "drop", "flow", "hose", "losses"]
    found = {}
    for name in ("alone", "boosted"):
        limits = [line_of(hydrant, place, feet, off, name == "boosted").limits() for off in cases]
        least = [min(flow for _, flow in case if flow is not None) for case in limits]
        if name == "boosted":
            least = [max(pair) for pair in zip(least, alone)]
        alone = least
        each = [[flow for _, flow in limit] for limit in zip(*limits)]
        low = min([low_of(least)] + [low_of(flows) for flows in each if None not in flows])
        found[name] = (least[0], max(low, found["alone"][1]) if name == "boosted" else low)
    return found


def lays(feet: float) -> set:
    """Sections that a lay may count as, in ft; there may be one more or less within the tolerance."""
    return {max(math.ceil((feet + off) / SECTION_FT), 1) * SECTION_FT for off in (-TOLERANCE_FT, TOLERANCE_FT)}


class Check:
    def __init__(self, hydrants: list, places: list, reach: dict, on_streets: list):
        self.hydrants = {own.id: own for own in hydrants}
        self.places = {own.id: own for own in places}
        self.reach, self.on_streets = reach, on_streets
        self.wrong, self.flows = [], 0

    def hold(self, holds: bool, *told) -> None:
        if not holds:
            self.wrong.append(told)

    def point(self, said: dict) -> None:
        """What can be told of every point."""
        id, need, cause = said["demand_point_id"], said["needed_flow_gpm"], said["cause"]
        self.hold(need == self.places[id].need, "need", said)
        self.hold((cause == "not_on_streets") == (id not in self.on_streets), "not on streets", said)
        near = self.usable(id)
        sure = [own for own, feet in near if max(lays(feet)) <= HOSE_FT]
        for name in ("alone", "boosted"):
            best = said[name]
            self.hold(best is not None or not sure, "a hydrant is missing", name, said, sure)
            if best:
                (laid,) = best["lays"]
                feet = dict(near).get(laid["hydrant_id"])
                self.hold(feet is not None and laid["lay_ft"] in lays(feet), "lay", name, laid, feet)
        if need is None:
            self.hold(cause in ("no_need_given", "not_on_streets"), "cause without a need", said)
            return
        meets = [bool(said[name]) and said[name]["low_flow_gpm"] >= need for name in ("alone", "boosted", "combined")]
        first = next((cause for cause, met in zip(CAUSES, meets) if met), None)
        self.hold((cause if cause in CAUSES[:3] else None) == first, "cause", said)
        low = max([said[name]["low_flow_gpm"] for name in ("alone", "boosted", "combined") if said[name]], default=0)
        self.hold(math.isclose(said["shortfall_gpm"], max(need - low, 0), abs_tol=1e-9), "shortfall", said)

    def usable(self, id: str) -> list:
        """Hydrants in service and tested that may be within the hose, with the way to them, ft."""
        good = lambda own: own.in_service and own.test
        return [(own, feet) for own, feet in self.reach[id] if good(self.hydrants[own]) and min(lays(feet)) <= HOSE_FT]

    def flow(self, said: dict) -> None:
        """What is the best, figure by figure."""
        place, told = self.places[said["demand_point_id"]], {}
        near = self.usable(place.id)
        for own, feet in near:
            for lay in lays(feet):
                told[own, lay] = arrives(self.hydrants[own], place, lay)
        for name in ("alone", "boosted"):
            if not said[name]:
                continue
            best = said[name]
            (laid,) = best["lays"]
            if (laid["hydrant_id"], laid["lay_ft"]) not in told:
                continue  # told by `point`
            figure, low = told[laid["hydrant_id"], laid["lay_ft"]][name]
            self.flows += 1
            for kind, got, want in (("figure", best["flow_gpm"], figure), ("low end", best["low_flow_gpm"], low)):
                self.hold(want - UNDER * figure <= got <= want * (1 + OVER), kind, name, said, want)
            for own, feet in near:
                if max(lays(feet)) <= HOSE_FT:
                    other = min(told[own, lay][name][1] for lay in lays(feet))
                    self.hold(other <= low + UNDER * figure, "another brings more", name, said, own, other)


def reached(streets: Streets, hydrants: list, hydrant_feet: list, places: list, place_feet: list) -> dict:
    reach = defaultdict(list)
    for hydrant, place, feet in streets.reach(hydrant_feet, place_feet, HOSE_FT):
        total = feet * SLACK + hydrant_feet[hydrant].off + place_feet[place].off
        reach[places[place].id].append((hydrants[hydrant].id, total))
    return reach


def main() -> int:
    parser = argparse.ArgumentParser(description="Holds a coverage run over a real street network against independent models.")
    parser.add_argument("--binary", required=True)
    parser.add_argument("--network", choices=("coquimbo", "nauru", "path-finder"), default="coquimbo")
    parser.add_argument("--places", type=int, default=2000)
    parser.add_argument("--sample", type=int, default=300)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--packages", required=True, type=Path, help="the folder that networks.py fetched into")
    args = parser.parse_args()
    begun, r = time.monotonic(), random.Random(args.seed)
    network = of_path_finder(args.packages) if args.network == "path-finder" else of_model(args.packages, args.network)
    lines = network["lines"]
    plane = Plane(lines)
    on_plane = [{**line, "points": [plane.feet(point) for point in line["points"]]} for line in lines]
    streets = Streets(on_plane)
    sides = []
    for own, within in zip(town(invented(on_plane, args.seed, None, args.places), plane, r), (HYDRANT_FT, PLACE_FT)):
        found = [(one, *streets.foot(plane.feet(one.at), within, MARGIN_FT)) for one in own]
        sides += [[one for one, _, doubt in found if not doubt], [foot for _, foot, doubt in found if not doubt]]
    hydrants, _, places, place_feet = sides
    reach = reached(streets, *sides)
    with tempfile.TemporaryDirectory() as work, Service(args.binary, Path(work)) as service:
        service.fill(lines, hydrants, places)
        run = service.run()
        points = service.points(run, "&cause=" + ",".join(CAUSES))
        gaps = service.points(run)
    check = Check(hydrants, places, reach, {own.id for own, foot in zip(places, place_feet) if foot})
    causes = Counter(point["cause"] for point in points)
    summary = run["summary"]["all"]
    check.hold(sorted(point["demand_point_id"] for point in points) == sorted(check.places), "each point once", len(points))
    check.hold(summary["demand_point_count"] == len(points), "count", summary)
    check.hold({name: summary["causes"][name] for name in CAUSES} == {name: causes[name] for name in CAUSES}, "counts", summary, causes)
    check.hold([p for p in points if p["cause"] not in NO_GAP] == gaps, "the gaps by themselves", len(gaps))
    for point in points:
        check.point(point)
    for point in r.sample([point for point in points if point["alone"]], args.sample):
        check.flow(point)
    for fault in check.wrong[:PRINTED]:
        print("MISMATCH", json.dumps(fault), file=sys.stderr)
    told = {
        "ok": not check.wrong,
        "segments": len(streets.ft),
        "hydrants": len(hydrants),
        "points": len(points),
        "pairs": sum(map(len, reach.values())),
        "flows_held": check.flows,
        "mismatches": len(check.wrong),
        "causes": causes,
        "all_s": round(time.monotonic() - begun, 1),
    }
    print(json.dumps(told))
    return 0 if told["ok"] else 1


if __name__ == "__main__":
    sys.exit(main())
