"""Holds the service's combined supplies against a second solver.

  python combined_oracle.py --url http://127.0.0.1:PORT --count 500 --seed 1

Several lines without pumpers from one to three hydrants.  The second solver tries every set of open lines by itself, solves each for its
total with scipy's brentq, and takes the best; lines of one hydrant share what its body leaves.  The service does neither.  Prints one JSON
summary line; exits 1 on any mismatch.
"""

import argparse
import http.client
import itertools
import json
import random
import sys
from urllib.parse import urlsplit

from scipy.optimize import brentq

N = 1 / 0.54
PSI_PER_FT = 0.434
FLOOR = 20.0
REL_TOL = 1e-6


def root(f, low, high):
    return brentq(f, low, high, xtol=1e-12, rtol=1e-14, maxiter=500)


class Main:
    def __init__(self, r):
        self.static = round(r.uniform(35, 110), 3)
        self.drop = round(self.static * r.uniform(0.1, 0.6), 3)
        self.tested = round(r.uniform(300, 2500), 3)
        self.body = round(r.uniform(0.01, 0.2), 3) if r.random() < 0.7 else 0.0

    def pressure(self, q):
        return self.static - self.drop * (q / self.tested) ** N

    def floor_flow(self):
        return self.tested * max((self.static - FLOOR) / self.drop, 0) ** 0.54

    def json(self):
        source = {"static_psi": self.static, "residual_psi": round(self.static - self.drop, 6), "flow_gpm": self.tested}
        if self.body:
            source["body_loss_coefficient"] = self.body
        return source


class Line:
    def __init__(self, r, hydrants):
        self.hydrant = r.randrange(hydrants)
        self.length = round(r.uniform(50, 1500), 1)
        self.c = round(r.choice((0.8, 0.2, 0.08, 0.05)) * r.uniform(0.8, 1.2), 4)
        self.rise = round(r.uniform(-20, 30), 2) if r.random() < 0.5 else 0.0
        self.appliance = round(r.uniform(0.02, 0.2), 3) if r.random() < 0.4 else 0.0
        self.k = self.c * self.length / 100 + self.appliance

    def flow(self, outlet):
        return 100 * (max(outlet - PSI_PER_FT * self.rise - FLOOR, 0.0) / self.k) ** 0.5

    def json(self, mains):
        parts = [{"kind": "hose", "loss_coefficient": self.c, "length_ft": self.length}]
        if self.appliance:
            parts.append({"kind": "appliance", "loss_coefficient": self.appliance})
        return {"lay": {"source": mains[self.hydrant].json(), "parts": parts, "rise_ft": self.rise}}


def of_hydrant(lines, body, pressure):
    """What the lines of one hydrant take with so much in its main."""
    most = sum(line.flow(pressure) for line in lines)
    if not body or most == 0:
        return most
    over = lambda q: sum(line.flow(pressure - body * (q / 100) ** 2) for line in lines) - q
    return root(over, 0.0, most)


def shared(lines, mains):
    """The best total over every set of open lines, all hydrants on one main."""
    best = 0.0
    for count in range(1, len(lines) + 1):
        for chosen in itertools.combinations(lines, count):
            used = sorted({line.hydrant for line in chosen})
            most = min(mains[h].floor_flow() for h in used)
            groups = [(mains[h], [line for line in chosen if line.hydrant == h]) for h in used]
            taken = lambda t: sum(of_hydrant(own, main.body, main.pressure(t)) for main, own in groups)
            total = most if taken(most) >= most else root(lambda t: taken(t) - t, 0.0, most) if most > 0 else 0.0
            best = max(best, total)
    return best


def separate(lines, mains):
    return sum(shared([line for line in lines if line.hydrant == h], mains) for h in {line.hydrant for line in lines})


class Service:
    def __init__(self, url):
        parts = urlsplit(url)
        self.connection = http.client.HTTPConnection(parts.hostname, parts.port, timeout=30)

    def ask(self, body):
        self.connection.request("POST", "/v1/combined-supplies", json.dumps(body), {"content-type": "application/json"})
        response = self.connection.getresponse()
        answer = json.loads(response.read())
        if response.status != 200:
            sys.exit(f"{response.status} {answer}")
        return answer


def near(a, b):
    return abs(a - b) <= REL_TOL * max(abs(a), abs(b)) + 1e-6


def main():
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--url", required=True)
    parser.add_argument("--count", type=int, default=500)
    parser.add_argument("--seed", type=int, default=1)
    args = parser.parse_args()
    r, service, wrong, seen = random.Random(args.seed), Service(args.url), 0, {}
    for i in range(args.count):
        hydrants = r.randint(1, 3)
        mains = [Main(r) for _ in range(hydrants)]
        lines = [Line(r, hydrants) for _ in range(r.randint(2, 4))]
        counted = r.choice(("shared", "separate", "unknown"))
        asked, first = [], {}
        for j, line in enumerate(lines):
            body = line.json(mains)
            if line.hydrant in first:
                body["same_hydrant_as"] = first[line.hydrant]
            first.setdefault(line.hydrant, j)
            asked.append(body)
        found = service.ask({"lines": asked, "mains": counted})
        apart, together = separate(lines, mains), shared(lines, mains)
        expected = apart if counted == "separate" else together
        seen[counted] = seen.get(counted, 0) + 1
        seen["two lines of one hydrant"] = seen.get("two lines of one hydrant", 0) + (len(first) < len(lines))
        seen["shut"] = seen.get("shut", 0) + any(not line["open"] for line in found["lines"])
        good = near(found["total_flow_gpm"], expected) and near(sum(line["flow_gpm"] for line in found["lines"]), expected)
        if counted == "unknown":
            good = good and near(found["upper_flow_gpm"], max(apart, together))
        if not good:
            wrong += 1
            print(json.dumps({"case": i, "counted": counted, "expected": expected, "apart": apart,
                              "found": found["total_flow_gpm"], "upper": found.get("upper_flow_gpm"), "ask": asked}), file=sys.stderr)
    print(json.dumps({"supplies": args.count, "mismatches": wrong, "seen": seen}))
    sys.exit(1 if wrong else 0)


if __name__ == "__main__":
    main()
