"""Holds the service's relays, drafts and shuttles against a second solver.

  python relay_oracle.py --url http://127.0.0.1:PORT --count 2000 --seed 1    compare with a running service
  python relay_oracle.py --self-test                                          worked examples, no service

Prints one JSON summary line.  Exits 1 on any mismatch, on thin coverage, or where too many cases are undecidable.
"""

import argparse
import http.client
import json
import random
import sys
from collections import Counter
from urllib.parse import urlsplit

import relay_model as model

TOL = 1e-6
SEEN_PER_2000 = 10
MAX_SKIPPED_SHARE = 0.01
PRINTED_MISMATCHES = 20
RELAY_OUTCOMES = (
    "carried",
    "source_too_weak",
    "lift_not_attainable",
    "lift_unknown",
    "pumper_too_small",
    "reaches_nowhere",
    "pumpers_run_out",
    "discharge_over_ceiling",
    "net_too_small",
    "intake_under_floor",
)


class Generator:
    """Seeded questions.  Numbers are left unround so that thresholds do not tie by accident of rounding."""

    def __init__(self, seed: int):
        self.r = random.Random(seed)

    def chance(self, share: float) -> bool:
        return self.r.random() < share

    def number(self, lo: float, hi: float, digits: int = 3) -> float:
        return round(self.r.uniform(lo, hi), digits)

    def place(self) -> dict:
        place = {"lift_ft": self.number(2, 24)}
        if self.chance(0.5):
            place["altitude_ft"] = self.number(0, 4000)
        if self.chance(0.4):
            place["suction_loss_coefficient"] = self.number(0.01, 0.15)
        return place

    def pumper(self) -> dict:
        pumper = {"rated_flow_gpm": self.number(550, 2200)}
        if self.chance(0.4):
            pumper["intake_floor_psi"] = self.number(5, 40)
        if self.chance(0.3):
            pumper["max_discharge_psi"] = self.number(150, 260)
        return pumper

    def relay(self) -> dict:
        distance = self.number(300, 9000, 1)
        coefficient = self.r.choice((0.8, 0.2, 0.2, 0.08, 0.08, 0.08)) * self.r.uniform(0.8, 1.1)
        ask = {
            "hose": {"loss_coefficient": round(coefficient, 4), "lines": self.r.choice((1, 1, 2))},
            "distance_ft": distance,
            "target_flow_gpm": self.number(250, 1300),
            "method": self.r.choice(("maximum_distance", "maximum_distance", "constant_pressure")),
        }
        if self.chance(0.8):
            ask["hose"]["max_operating_psi"] = self.number(160, 280)
        if self.chance(0.3):
            ask["hose"]["service_test_psi"] = self.number(190, 400)
        if self.chance(0.25):
            ask["source"] = {"draft": self.place()}
        else:
            static = self.number(24, 115)
            ask["source"] = {
                "static_psi": static,
                "residual_psi": round(static * (1 - self.r.uniform(0.0, 0.5)), 3),
                "flow_gpm": self.number(500, 3200),
            }
            if self.chance(0.7):
                ask["source"]["body_loss_coefficient"] = self.number(0.01, 0.1)
            if self.chance(0.3):
                ask["main_floor_psi"] = self.number(10, 30)
        if self.chance(0.4):
            ask["rise_ft"] = self.number(-150, 200, 2)
        else:
            inner = sorted({self.number(1, distance - 1, 1) for _ in range(self.r.randint(0, 6))})
            level = self.number(100, 900)
            at = [0.0, *inner, distance]
            ask["ground"] = [{"distance_ft": x, "elevation_ft": self.number(level - 90, level + 90, 2)} for x in at]
        if self.chance(0.5):
            ask["typical_pumper"] = self.pumper()
        else:
            ask["pumpers"] = [self.pumper() for _ in range(self.r.randint(1, 8))]
        if self.chance(0.3):
            ask["scene_floor_psi"] = self.number(5, 60)
        if ask["method"] == "constant_pressure":
            if self.chance(0.3):
                ask["customary_discharge"] = True
            else:
                ask["constant_discharge_psi"] = self.number(120, 230)
        if self.chance(0.03):
            # All of a pumper's flow, and more pressure than it has there.
            for name in ("pumpers", "typical_pumper", "customary_discharge"):
                ask.pop(name, None)
            flow = ask["target_flow_gpm"]
            ask |= {"method": "constant_pressure", "constant_discharge_psi": self.number(175, 210)}
            ask["typical_pumper"] = {"rated_flow_gpm": round(flow * 1.02, 3)}
            ask["hose"]["max_operating_psi"] = 400.125
            ask["hose"].pop("service_test_psi", None)
        elif self.chance(0.08):
            # Hardly more than its floor to push with.
            ask.pop("pumpers", None)
            ask["typical_pumper"] = {"rated_flow_gpm": 2000.25, "max_discharge_psi": self.number(15, 25)}
        return ask

    def draft(self) -> dict:
        ask = {"pumper": self.pumper(), **self.place()}
        ask["lift_ft"] = self.number(0, 26)
        return ask

    def shuttle(self) -> dict:
        def tanker() -> dict:
            return {
                "tank_gal": self.number(800, 4500),
                "fill_min": self.number(2, 9),
                "dump_min": self.number(1, 6),
                self.r.choice(("round_trip_mi", "one_way_mi")): self.number(0.5, 8),
            }

        ask = {"tankers": [tanker() for _ in range(self.r.randint(1, 8))], "target_flow_gpm": self.number(80, 1500)}
        for name, lo, hi in (("fill_sites", 1, 3), ("dump_sites", 1, 3)):
            if self.chance(0.6):
                ask[name] = self.r.randint(lo, hi)
        if self.chance(0.6):
            ask["fill_flow_gpm"] = self.number(400, 1500)
        return ask


def same(ours, theirs) -> bool:
    if ours is None or theirs is None:
        return ours is theirs
    if isinstance(theirs, bool) or not isinstance(theirs, (int, float)):
        return False
    return abs(theirs - ours) <= TOL * max(1.0, abs(ours))


def relay_differences(ours: dict, theirs: dict) -> list:
    code = (theirs.get("hindrance") or {}).get("code")
    if code != ours["code"]:
        return [f"hindrance: {ours['code']} and not {code}"]
    wrong = []
    got = theirs["pumpers"]
    if ours["pumpers"] is not None:
        if len(got) != len(ours["pumpers"]):
            return ["pumpers: count"]
        names = (("at", "at_ft"), ("stretch", "stretch_ft"), ("intake", "intake_psi"), ("discharge", "discharge_psi"))
        for i, (want, have) in enumerate(zip(ours["pumpers"], got)):
            net = max(want["discharge"] - want["intake"], 0.0)
            wrong += [f"pumpers.{i}.{key}" for name, key in names if not same(want[name], have[key])]
            wrong += [] if same(net, have["net_psi"]) else [f"pumpers.{i}.net_psi"]
            wrong += [] if same(want["net_available"] - net, have["spare_psi"]) else [f"pumpers.{i}.spare_psi"]
    if ours["code"] is None:
        whole = theirs["relay"]
        wrong += [] if theirs["pumpers_needed"] == len(got) + 1 else ["pumpers_needed"]
        for name, key in (("scene", "scene_intake_psi"), ("spare_ft", "hose_to_spare_ft"), ("most", "most_flow_gpm")):
            wrong += [] if same(ours[name], whole[key]) else [key]
    return wrong


def draft_differences(ours: dict, theirs: dict) -> list:
    discharge = (theirs.get("at_capacity") or {}).get("discharge_psi")
    pairs = {"capacity_gpm": (ours["capacity"], theirs["capacity_gpm"]), "discharge_psi": (ours["discharge"], discharge)}
    wrong = [name for name, (a, b) in pairs.items() if not same(a, b)]
    return wrong + ([] if ours["verdict"] == theirs["lift"]["verdict"] else ["verdict"])


def shuttle_differences(ours: dict, theirs: dict) -> list:
    wrong = [] if same(ours["flow"], theirs["sustained_flow_gpm"]) else ["sustained_flow_gpm"]
    return wrong + ([] if ours["needed"] == theirs["at_target"]["tankers_needed"] else ["tankers_needed"])


class Service:
    """One connection, kept open."""

    def __init__(self, url: str):
        split = urlsplit(url)
        self.path = split.path.rstrip("/")
        self.connection = http.client.HTTPConnection(split.hostname, split.port, timeout=30)

    def ask(self, path: str, request: dict) -> tuple:
        self.connection.request("POST", self.path + path, json.dumps(request), {"Content-Type": "application/json"})
        response = self.connection.getresponse()
        return response.status, json.loads(response.read())


KINDS = (
    ("/v1/relays", Generator.relay, model.relay, relay_differences),
    ("/v1/drafts", Generator.draft, model.draft, draft_differences),
    ("/v1/shuttles", Generator.shuttle, model.shuttle, shuttle_differences),
)


def run(count: int, seed: int, service: Service) -> int:
    generator = Generator(seed)
    outcomes, pumpers, mismatched, skipped = Counter(), Counter(), 0, 0
    for number in range(count):
        for path, make, solve, differences in KINDS:
            request = make(generator)
            ours = solve(request)
            if path == "/v1/relays":
                if ours["code"] == "tie":
                    skipped += 1
                    continue
                outcomes[ours["code"] or "carried"] += 1
                pumpers.update([len(ours["pumpers"])] if ours["code"] is None else [])
            status, theirs = service.ask(path, request)
            wrong = differences(ours, theirs) if status == 200 else [f"status {status}"]
            if wrong:
                mismatched += 1
                if mismatched <= PRINTED_MISMATCHES:
                    case = {"case": number, "path": path, "wrong": wrong, "request": request, "ours": ours, "theirs": theirs}
                    print("MISMATCH " + json.dumps(case), file=sys.stderr)
    thin = [name for name in RELAY_OUTCOMES if outcomes[name] < SEEN_PER_2000 * count // 2000]
    ok = not (mismatched or thin or skipped > MAX_SKIPPED_SHARE * count)
    summary = {
        "ok": ok,
        "count": count,
        "seed": seed,
        "mismatches": mismatched,
        "skipped": skipped,
        "outcomes": dict(outcomes),
        "relay_pumpers": dict(sorted(pumpers.items())),
        "seen_too_seldom": thin,
    }
    print(json.dumps(summary))
    return 0 if ok else 1


def self_test() -> int:
    """Worked by hand: 0.08 at 1000 gpm loses 8 psi in 100 ft, so 185 psi reach 2062.5 ft with 20 left."""
    level = {
        "source": {"static_psi": 70, "residual_psi": 70, "flow_gpm": 2000},
        "hose": {"loss_coefficient": 0.08, "max_operating_psi": 185},
        "distance_ft": 6000,
        "rise_ft": 0,
        "target_flow_gpm": 1000,
        "typical_pumper": {"rated_flow_gpm": 1500},
    }
    found = model.relay(level | {"method": "maximum_distance"})
    at = [round(p["at"], 6) for p in found["pumpers"]]
    assert at == [0.0, 2062.5, 4125.0], at
    assert abs(found["spare_ft"] - 187.5) < 1e-6 and abs(found["most"] - 1000) < 1e-6, found
    spaced = model.relay(level | {"distance_ft": 5000, "method": "constant_pressure", "customary_discharge": True})
    assert len(spaced["pumpers"]) == 3 and abs(spaced["scene"] - (175 - 400 / 3)) < 1e-9, spaced
    assert abs(model.draft({"pumper": {"rated_flow_gpm": 1500}, "lift_ft": 10})["capacity"] - 1050) < 1e-9
    tanker = {"tank_gal": 3000, "fill_min": 4, "dump_min": 2.25, "round_trip_mi": 3}
    assert abs(model.shuttle({"tankers": [tanker], "target_flow_gpm": 1000})["flow"] - 225) < 1e-9
    print(json.dumps({"ok": True, "self_test": "relays, drafts, shuttles"}))
    return 0


def main() -> int:
    parser = argparse.ArgumentParser(description="Holds relays, drafts and shuttles against a second solver.")
    mode = parser.add_mutually_exclusive_group(required=True)
    mode.add_argument("--url", help="base address of a running service")
    mode.add_argument("--self-test", action="store_true", help="worked examples, without a service")
    parser.add_argument("--count", type=int, default=2000)
    parser.add_argument("--seed", type=int, default=1)
    args = parser.parse_args()
    return self_test() if args.self_test else run(args.count, args.seed, Service(args.url))


if __name__ == "__main__":
    sys.exit(main())
