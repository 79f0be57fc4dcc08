"""Holds which hydrants serve which places, and over how much hose, against an independent shortest-path library.

  python networks.py FOLDER
  python reach_oracle.py --program target/release/examples/reach --packages FOLDER --seed 1

Asks the coverage crate's `reach` example and the model in street_model.py the same question: the demo town, and three real networks (their licence:
networks.py) with invented hydrants and places; some lines are moved a little, so that ends nearly meet. Every pair is compared, both ways. Lays are in
whole feet, rounded up. Streets lie on a lattice of a sixteenth of a foot in the crate: hence a foot of tolerance, and none but rounding where the
network is put on that lattice first. Left out before asking are points of which it hangs on a hair which street is theirs. Prints one JSON line a
network; exits 1 on any mismatch.
"""

import argparse
import json
import subprocess
import sys
import time
from pathlib import Path

from networks import Plane, demo_town, invented, nudged, of_model, of_path_finder
from street_model import Streets

HOSE_FT, PLACE_FT, HYDRANT_FT = 1500.0, 500.0, 200.0
LATTICE_FT = 1 / 16
# Name of a pass: the tolerance of a lay, ft, and how nearly tied two streets must be for a point to be left out.
PASSES = {"as it comes": (1.0, 0.25), "on the lattice": (1e-3, 1e-6)}
MOST_DOUBTFUL_SHARE = 0.1
PRINTED = 10


def asked(program: str, lines: list, places: list, hydrants: list) -> dict:
    """The crate's pairs: (place, hydrant) to ft."""
    text = [f"rule {HOSE_FT} 1 1 {PLACE_FT} {HYDRANT_FT}"]
    for line in lines:
        points = " ".join(f"{x!r} {y!r}" for x, y in line["points"])
        text.append(f"line {line['levels'][0]} {line['levels'][1]} {int(bool(line['barrier']))} {points}")
    for kind, spots in (("place", places), ("hydrant", hydrants)):
        text += [f"{kind} {x!r} {y!r}" for x, y in spots]
    told = subprocess.run([program], input="\n".join(text), capture_output=True, text=True, check=True).stdout
    rows = (line.split() for line in told.splitlines())
    return {(int(place), int(hydrant)): float(feet) for place, hydrant, feet in rows}


def settled(streets: Streets, spots: list, within: float, margin: float) -> tuple:
    """The points of which it is plain where they belong, where that is, and how many others there were."""
    found = [(spot, *streets.foot(spot, within, margin)) for spot in spots]
    kept = [(spot, foot) for spot, foot, doubt in found if not doubt]
    return [spot for spot, _ in kept], [foot for _, foot in kept], len(found) - len(kept)


def compared(ours: dict, theirs: dict, tolerance: float) -> dict:
    """`ours` is the model's, not rounded, and reaches past the hose by the tolerance."""
    worst, at_limit, wrong = 0.0, 0, []
    for pair, feet in ours.items():
        near_limit = abs(feet - HOSE_FT) <= tolerance
        at_limit += near_limit
        lay = theirs.get(pair)
        if lay is None:
            wrong += [] if near_limit else [("missing", *pair, feet)]
            continue
        # A lay is right for every way that is no longer, and no shorter by a foot; none is shorter than that.
        off = max(feet - lay, lay - 1 - feet if lay > 1 else 0, 0)
        worst = max(worst, off)
        wrong += [("length", *pair, feet, lay)] if off > tolerance else []
    wrong += [("too many", *pair, theirs[pair]) for pair in theirs.keys() - ours.keys()]
    told = {"pairs": len(theirs), "mismatches": len(wrong), "at_the_limit": at_limit, "farthest_off_ft": round(worst, 6)}
    return {**told, "wrong": wrong}


def on_lattice(lines: list) -> list:
    to = lambda ft: round(ft / LATTICE_FT) * LATTICE_FT
    return [{**line, "points": [[to(x), to(y)] for x, y in line["points"]]} for line in lines]


def run(args: argparse.Namespace, name: str, network: dict, how: str) -> bool:
    begun = time.monotonic()
    tolerance, margin = PASSES[how]
    plane = Plane(network["lines"])
    lines = [{**line, "points": [plane.feet(point) for point in line["points"]]} for line in network["lines"]]
    lines = nudged(lines, args.seed)
    lines = on_lattice(lines) if how == "on the lattice" else lines
    hydrants, places = invented(lines, args.seed, args.hydrants, args.places)
    if "places" in network:
        hydrants = [plane.feet(spot) for spot in network["hydrants"]]
        places += [plane.feet(spot) for spot in network["places"]]
    streets = Streets(lines)
    hydrants, hydrant_feet, odd_hydrants = settled(streets, hydrants, HYDRANT_FT, margin)
    places, place_feet, odd_places = settled(streets, places, PLACE_FT, margin)
    ours = {}
    for hydrant, place, feet in streets.reach(hydrant_feet, place_feet, HOSE_FT + tolerance):
        total = feet + hydrant_feet[hydrant].off + place_feet[place].off
        if total <= HOSE_FT + tolerance:
            ours[(place, hydrant)] = total
    asking = time.monotonic()
    theirs = asked(args.program, lines, places, hydrants)
    took = time.monotonic() - asking
    told = compared(ours, theirs, tolerance)
    wrong = told.pop("wrong")
    for fault in wrong[:PRINTED]:
        print("MISMATCH", name, how, *fault, places[fault[1]], hydrants[fault[2]], file=sys.stderr)
    doubtful = odd_hydrants + odd_places
    nowhere = sum(foot is None for foot in hydrant_feet + place_feet)
    thin = doubtful > MOST_DOUBTFUL_SHARE * (len(hydrants) + len(places) + doubtful) or told["pairs"] < len(places)
    summary = {
        "ok": not wrong and not thin,
        "network": name,
        "streets": how,
        "segments": len(streets.ft),
        "near_joints": len(streets.joints),
        "hydrants": len(hydrants),
        "places": len(places),
        "left_out_as_doubtful": doubtful,
        "on_no_street": nowhere,
        **told,
        "crate_s": round(took, 2),
        "all_s": round(time.monotonic() - begun, 1),
    }
    print(json.dumps(summary), flush=True)
    return summary["ok"]


def main() -> int:
    parser = argparse.ArgumentParser(description="Holds hose along streets against an independent shortest-path library.")
    parser.add_argument("--program", required=True, help="the coverage crate's `reach` example")
    parser.add_argument("--packages", required=True, type=Path, help="the folder that networks.py fetched into")
    parser.add_argument("--hydrants", type=int, default=2500, help="most hydrants of a real network")
    parser.add_argument("--places", type=int, default=1500)
    parser.add_argument("--seed", type=int, default=1)
    args = parser.parse_args()
    networks = {"demo town": demo_town(), "nauru": of_model(args.packages, "nauru"), "coquimbo": of_model(args.packages, "coquimbo")}
    networks["path finder's"] = of_path_finder(args.packages)
    told = [run(args, name, network, how) for name, network in networks.items() for how in PASSES]
    return 0 if all(told) else 1


if __name__ == "__main__":
    sys.exit(main())
