"""Holds the service's 90 % bands against Monte Carlo sampling of the same uncertain readings.

  python band_oracle.py --url http://127.0.0.1:PORT --count 150 --seed 1

Each case is a lay with stated uncertainties; every reading is drawn at random (normal, by halves where the two sides differ, with
5 % of the draws beyond each end of its span), every draw is solved by a vectorised bisection of its own, and the band must hold about
nine draws in ten.  Prints one JSON summary line; exits 1 where a band is off.
"""

import argparse
import http.client
import json
import random
import sys
from urllib.parse import urlsplit

import numpy as np

DRAWS = 20_000
Z90 = 1.6448536269514722
N = 1 / 0.54
PSI_PER_FT = 0.434
# One-at-a-time variation is exact for one input and an approximation for several. An end of a band is right where one draw in a hundred to one in
# ten lies beyond it, or where it lies near the quantile: as a share of the flow for flows, in psi for an intake. Low ends are what is planned
# on and must be near; a high end is the least of the limits' own, which is known to be wide where limits meet; that of a gain, a
# difference of two flows that meet different limits, may be narrow there.
BEYOND = (0.01, 0.10)
# (too narrow by, too wide by)
NEAR_SHARE = {"low": (0.02, 0.03), "high": (0.02, 0.20), "gain_high": (0.10, 0.10)}
NEAR_PSI = (1.0, 1.0)


def off(end, outwards, draws, near):
    """How an end is off: None, or what is wrong with it. `outwards` is -1 for a low end, 1 for a high one."""
    beyond = float(np.mean(outwards * draws > outwards * end))
    away = outwards * (end - float(np.quantile(draws, 0.05 if outwards < 0 else 0.95)))
    good = BEYOND[0] <= beyond <= BEYOND[1] or -near[0] <= away <= near[1]
    return None if good else {"end": end, "beyond": beyond, "too_wide_by": away}


class Inputs:
    """Draws of one case. Numbers drawn are those the service states: see GET of any lay answer's `uncertainties`."""

    def __init__(self, rng):
        self.rng = rng

    def even(self, half):
        return self.rng.normal(0.0, half / Z90, DRAWS)

    def factor(self, below, above):
        z = self.rng.normal(0.0, 1.0, DRAWS)
        return np.maximum(1.0 + np.where(z < 0, z * below / Z90, z * above / Z90), 0.0)


def largest(holds, high=60_000.0):
    """The largest flow at which a vectorised condition holds, by bisection from nothing."""
    low, top = np.zeros(DRAWS), np.full(DRAWS, high)
    for _ in range(60):
        mid = (low + top) / 2
        good = holds(mid)
        low, top = np.where(good, mid, low), np.where(good, top, mid)
    return np.where(holds(np.zeros(DRAWS)), low, 0.0)


def net(rating, q):
    """What a rated pumper adds; nothing past its rating."""
    return np.interp(q, [0, 0.5 * rating, 0.7 * rating, rating], [250, 250, 200, 150])


class Case:
    def __init__(self, r, rng):
        number = lambda lo, hi: round(r.uniform(lo, hi), 2)
        self.static = number(45, 110)
        self.drop = round(self.static * r.choice((r.uniform(0.05, 0.1), r.uniform(0.1, 0.25), r.uniform(0.25, 0.5))), 2)
        self.flow = number(400, 2500)
        self.body = number(0.02, 0.2)
        self.length = number(100, 1500)
        self.c = r.choice((0.2, 0.08, 0.05))
        self.rise = number(-10, 15)
        self.legs = (number(0.05, 0.3), number(0.05, 0.2), number(0.02, 0.1)) if r.random() < 0.6 else None
        self.appliance = number(0.02, 0.1) if r.random() < 0.5 else None
        self.rating = r.choice((None, 1000, 1500, 2000))
        self.ceiling = 185.0
        self.pitot = None
        if r.random() < 0.4:
            # By pitot: two 2-1/2 in outlets.
            self.pitot = number(8, 30)
            self.flow = 2 * 29.84 * 0.9 * 2.5**2 * self.pitot**0.5
        self.draws = Inputs(rng)

    def body_json(self, hydrant):
        parts = []
        if self.legs:
            through, to_pump, from_pump = self.legs
            parts.append({"kind": "hydrant_valve", "through_coefficient": through, "to_pump_coefficient": to_pump,
                          "from_pump_coefficient": from_pump})
        parts.append({"kind": "hose", "loss_coefficient": self.c, "length_ft": self.length, "lines": 1})
        if self.appliance:
            parts.append({"kind": "appliance", "loss_coefficient": self.appliance})
        source = {"hydrant_id": hydrant} if self.pitot else {
            "static_psi": self.static, "residual_psi": round(self.static - self.drop, 6), "flow_gpm": self.flow,
            "body_loss_coefficient": self.body}
        ask = {"source": source, "parts": parts, "rise_ft": self.rise}
        if self.rating:
            ask["boost"] = {"rated_flow_gpm": self.rating, "max_discharge_psi": self.ceiling}
        return ask

    def drawn(self):
        d = self.draws
        level = d.even(1.0) + d.even(5.0)
        drop = np.maximum(self.drop + d.even(2**0.5), 0.01)
        if self.pitot:
            flow = self.flow * np.sqrt(np.maximum(self.pitot + d.even(0.5), 0.1) / self.pitot) * (1 + d.even(0.02))
        else:
            flow = self.flow * np.maximum(1 + d.even(0.06), 0.01)
        hose, losses = d.factor(0.35, 0.10), d.factor(0.60, 0.30)
        c = self.c * hose * self.length / 100
        body = self.body * losses
        through, to_pump, from_pump = (k * losses for k in self.legs) if self.legs else (0 * losses,) * 3
        appliance = (self.appliance or 0.0) * losses
        static = self.static + level
        return static, drop, flow, c, body, through, to_pump, from_pump, appliance

    def figures(self, at_alone, at_best):
        static, drop, flow, c, body, through, to_pump, from_pump, appliance = self.drawn()
        rise = PSI_PER_FT * self.rise
        pressure = lambda q: static - drop * (q / flow) ** N
        lost = lambda k, q: k * (q / 100) ** 2
        main = flow * np.maximum((static - 20) / drop, 0) ** 0.54
        alone_k = body + through + c + appliance
        alone = largest(lambda q: (pressure(q) - lost(alone_k, q) - rise >= 20) & (pressure(q) >= 20))
        found = {"main": main, "alone": alone, "scene": pressure(at_alone) - lost(alone_k, at_alone) - rise}
        if self.rating:
            before, after = body + to_pump, from_pump + c + appliance

            def holds(q):
                intake = pressure(q) - lost(before, q)
                discharge = np.minimum(intake + net(self.rating, q), self.ceiling)
                return ((pressure(q) >= 20) & (intake >= 20) & (q <= self.rating)
                        & (discharge - lost(after, q) - rise >= 20))

            best = np.maximum(largest(holds), alone)
            found |= {"best": best, "gain": best - alone, "intake": pressure(at_best) - lost(before, at_best)}
        return found


def banded(answer):
    """What the service says: (low, high) by figure, and the flows its intakes are read at."""
    alone, best = answer["unboosted"], answer.get("boosted")
    ends = lambda band: (band["low"], band["high"])
    says = {"main": ends(answer["main_limit_band_gpm"]), "alone": ends(alone["band_gpm"]),
            "scene": (alone["intake"]["low_psi"], alone["intake"]["high_psi"])}
    at_best = 0.0
    if best:
        says |= {"best": ends(best["band_gpm"]), "gain": ends(answer["boost_gain_band_gpm"])}
        if best["intake"]["station"] == "pumper_1_intake":
            says["intake"] = (best["intake"]["low_psi"], best["intake"]["high_psi"])
        at_best = best["intake"]["at_gpm"]
    return says, alone["intake"]["at_gpm"], at_best


class Service:
    def __init__(self, url):
        parts = urlsplit(url)
        self.connection = http.client.HTTPConnection(parts.hostname, parts.port, timeout=30)

    def send(self, method, path, body):
        self.connection.request(method, path, json.dumps(body), {"content-type": "application/json"})
        response = self.connection.getresponse()
        answer = json.loads(response.read())
        if response.status not in (200, 201):
            sys.exit(f"{method} {path}: {response.status} {answer}")
        return answer

    def hydrant(self, i, case):
        name = f"band-{i}"
        outlet = {"kind": "pumper", "diameter_in": 4.5, "coefficient": 0.9}
        self.send("PUT", f"/v1/hydrants/{name}", {
            "location": {"lon": -30, "lat": 40}, "owner": "public", "potable": True, "in_service": True,
            "outlets": [outlet], "body_loss_coefficient": case.body})
        reading = {"diameter_in": 2.5, "coefficient": 0.9, "pitot_psi": case.pitot}
        self.send("POST", f"/v1/hydrants/{name}/flow-tests", {
            "tested_on": "2026-05-01", "static_psi": case.static, "residual_psi": round(case.static - case.drop, 6),
            "outlets": [reading, reading]})
        return name


def main():
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--url", required=True)
    parser.add_argument("--count", type=int, default=150)
    parser.add_argument("--seed", type=int, default=1)
    args = parser.parse_args()
    r, rng, service = random.Random(args.seed), np.random.default_rng(args.seed), Service(args.url)
    wrong, checked, inside = [], 0, []
    for i in range(args.count):
        case = Case(r, rng)
        name = service.hydrant(i, case) if case.pitot else None
        answer = service.send("POST", "/v1/lay-calculations", case.body_json(name))
        says, at_alone, at_best = banded(answer)
        drawn = case.figures(at_alone, at_best)
        for figure, (low, high) in says.items():
            draws = drawn[figure]
            flow = float(np.median(drawn.get("best", drawn["alone"])))
            psi = figure in ("scene", "intake")
            near = lambda end: NEAR_PSI if psi else tuple(share * flow for share in NEAR_SHARE[end])
            faults = [off(low, -1, draws, near("low"))]
            if high is not None:
                faults.append(off(high, 1, draws, near("gain_high" if figure == "gain" else "high")))
            checked += 1
            inside.append(float(np.mean((draws >= low) & (draws <= (np.inf if high is None else high)))))
            for fault in filter(None, faults):
                wrong.append({"case": i, "figure": figure, "band": (low, high), **fault})
                print(json.dumps(wrong[-1]), file=sys.stderr)
    print(json.dumps({"bands": checked, "wrong": len(wrong), "inside_mean": round(sum(inside) / len(inside), 3)}))
    sys.exit(1 if wrong else 0)


if __name__ == "__main__":
    main()
