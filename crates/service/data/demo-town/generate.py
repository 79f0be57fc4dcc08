#!/usr/bin/env python3
"""Writes the demo town of Quenderby: every other file in this folder.

The JSON files are the data that the service reads; this script is where they come from. Change the
script, run `python generate.py`, and commit both. Only the standard library is used, the seed is
fixed, and two runs give the same bytes. The town is invented from end to end: see README.md.

The plan is drawn in feet, x east and y north of the market square, then placed in open ocean. A
small model of the water system (one pressure zone head, one stiffness per main) makes the flow
tests agree with one another. `check` at the end refuses to write data that does not hold together.
"""

import json
import math
import random
import re
from pathlib import Path

HERE = Path(__file__).resolve().parent
SEED = 20261125
TODAY = "2026-11-25"
OLD_BEFORE = "2021-11-25"

# The market square: open water, far from any land.
LON0, LAT0 = -30.0, 40.0
FT_PER_DEG = 6371008.8 * math.pi / 180.0 / 0.3048
PSI_PER_FT = 0.434
EXPONENT = 1.0 / 0.54

# Hydraulic grade of each pressure zone, in feet. The mill's yard system and the pond are not zones of
# the town and are left out of the records.
ZONE_GRADE_FT = {"low": 240.0, "high": 375.0, "mill": 208.0, "pond": 160.0}
TOWN_ZONES = ("low", "high")

rng = random.Random(SEED)


def between(low, high):
    # Only random() is used: its sequence for a seed is the same in every Python 3.
    return low + (high - low) * rng.random()


def pick(items):
    return items[int(rng.random() * len(items))]


# ---------------------------------------------------------------------------------------------------
# Ground and plan
# ---------------------------------------------------------------------------------------------------


def ground_ft(x, y):
    hill = 139.0 * math.exp(-((x - 3080.0) ** 2 + (y - 2850.0) ** 2) / (2.0 * 1250.0**2))
    creek = 20.0 * math.exp(-((x + 2200.0) ** 2 + (y + 2500.0) ** 2) / (2.0 * 1400.0**2))
    # The plain tilts up to the north-east and flattens out towards the marsh.
    tilt = 0.0072 * x + 0.0092 * y
    plain = 78.0 + 70.0 * math.tanh(tilt / 70.0)
    return plain + hill - creek


def lon_lat(x, y):
    return (
        round(LON0 + x / (FT_PER_DEG * math.cos(math.radians(LAT0))), 6),
        round(LAT0 + y / FT_PER_DEG, 6),
    )


def grid_nodes():
    """The old centre: five streets by four rows, a little askew and never quite regular."""
    us = [-910.0, -445.0, 0.0, 455.0, 935.0]
    vs = [-720.0, -265.0, 190.0, 665.0]
    turn = math.radians(9.0)
    nodes = {}
    for i, u in enumerate(us):
        for j, v in enumerate(vs):
            u2 = u + 26.0 * math.sin(2.1 * j + 0.7 * i)
            v2 = v + 22.0 * math.sin(1.3 * i + 2.4 * j)
            nodes[f"G{i}{j}"] = (
                u2 * math.cos(turn) - v2 * math.sin(turn),
                u2 * math.sin(turn) + v2 * math.cos(turn),
            )
    return nodes


NODES = grid_nodes()
NODES.update(
    {
        # the causeway, west to east
        "W1": (-5400.0, -1500.0), "W2": (-3700.0, -1050.0), "W3": (-2250.0, -560.0),
        "E1": (2150.0, 330.0), "E2": (3350.0, -90.0), "E3": (4700.0, 60.0), "E4": (6100.0, 620.0),
        # north road
        "N1": (120.0, 1600.0), "N2": (380.0, 2500.0), "N3": (-150.0, 3650.0), "N4": (-1100.0, 4900.0),
        # hill
        "H1": (2250.0, 1500.0), "H2": (2600.0, 2150.0), "H3": (3050.0, 2750.0), "H4": (3750.0, 2350.0),
        "H5": (3600.0, 3350.0), "H6": (1950.0, 3000.0), "H7": (3900.0, 1450.0), "H8": (2750.0, 3750.0),
        # north slope
        "F1": (1330.0, 1230.0), "F2": (1450.0, 2330.0),
        # creek side
        "M1": (-1450.0, -1500.0), "M2": (-1950.0, -2250.0), "M3": (-2750.0, -2750.0),
        "T1": (-450.0, -1780.0), "T2": (650.0, -1900.0),
        # south-east
        "S1": (3250.0, -1100.0), "S2": (2650.0, -1950.0), "S3": (1650.0, -2250.0), "S4": (4550.0, -1250.0),
        # west
        "R1": (-2450.0, 500.0), "R2": (-2250.0, 1500.0), "R3": (-1350.0, 1950.0), "R4": (-1500.0, 760.0),
        "R5": (-3500.0, 760.0),
    }
)


def street(name, road_class, points, district, main_id, main_in, zone, stiffness, spacing_ft, first_ft, plan, **extra):
    return {
        "name": name, "class": road_class, "points": points, "district": district, "main_id": main_id,
        "main_in": main_in, "zone": zone, "stiffness": stiffness, "spacing_ft": spacing_ft,
        "first_ft": first_ft, "plan": plan, **extra,
    }


# `stiffness` is the drop in psi at 1000 gpm. `plan` goes round the hydrants of the street: what test, if
# any, each one was given as the gauge hydrant. The words are explained at `run_test`.
STREETS = [
    # --- district 0: old centre -------------------------------------------------------------------
    street("Lantern Street", "residential", ["G00", "G01", "G02", "G03"], 0, "M-011", 6, "low", 50.0, 440, 60,
           ["fair", "-", "steep", "-"]),
    street("Anvil Street", "residential", ["G10", "G11", "G12", "G13"], 0, "M-012", 6, "low", 62.0, 440, 60,
           ["-", "steep", "-", "fair"]),
    street("Ferry Street", "secondary", ["G20", "G21", "G22", "G23"], 0, "M-013", 8, "low", 14.0, 430, 60,
           ["fair two", "-", "fair", "-"]),
    street("Granary Street", "residential", ["G30", "G31", "G32", "G33"], 0, "M-014", 6, "low", 44.0, 440, 60,
           ["-", "fair", "-", "steep"]),
    street("Bell Street", "residential", ["G40", "G41", "G42", "G43"], 0, "M-015", 6, "low", 70.0, 440, 60,
           ["steep", "-", "steep meter", "-"]),
    street("Tidegate Row", "residential", ["G00", "G10", "G20", "G30", "G40"], 0, "M-016", 8, "low", 26.0, 455, 230,
           ["fair", "-", "steep two", "-"]),
    street("Market Row", "secondary", ["G02", "G12", "G22", "G32", "G42"], 0, "M-017", 8, "low", 12.0, 455, 230,
           ["fair two", "-", "small", "fair pumper"]),
    street("Chandlery Row", "residential", ["G03", "G13", "G23", "G33", "G43"], 0, "M-018", 6, "low", 64.0, 455, 230,
           ["-", "-", "-", "-"]),
    # --- district 1: north slope ------------------------------------------------------------------
    street("Foundry Street", "secondary", ["G43", "F1"], 1, "M-101", 6, "low", 51.5, 225, 150,
           ["-", "-", "-"]),
    street("Hasp Court", "residential", [(1010.0, 935.0), (1270.0, 800.0), (1580.0, 800.0)], 1, "M-102", 4, "low", 163.7,
           330, 150, ["-", "-"], curved=True, joins="Foundry Street"),
    street("Kiln Bank", "residential", ["N1", (760.0, 1500.0), "F1", (1780.0, 1350.0), "H1"], 1, "M-103", 8, "low", 32.0, 330, 120,
           ["steep", "-", "fair", "-", "-", "steep", "fair"], curved=True),
    street("Windpump Road", "secondary", ["G23", (-60.0, 1130.0), "N1", "N2"], 1, "M-104", 10, "low", 6.0, 420, 200,
           ["fair two", "-", "fair high-pitot", "-", "fair pumper"], curved=True),
    street("Clay Pit Lane", "residential", ["F1", (1480.0, 1800.0), "F2", "N2"], 1, "M-105", 8, "low", 38.0, 400, 260,
           ["-", "steep", "steep", "fair solo", "-"], curved=True),
    street("Brickyard Close", "residential", ["N1", (-380.0, 1560.0), (-720.0, 1420.0)], 1, "M-106", 6, "low", 150.0, 340, 300,
           ["steep tube", "-"], curved=True),
    # --- district 2: hill -------------------------------------------------------------------------
    street("Kestrel Rise", "secondary", ["E1", (2120.0, 900.0), "H1", "H2", "H3"], 2, "M-201", 12, "high", 3.6, 330, 900,
           ["fair two", "-", "small", "-", "fair high-pitot", "-"], curved=True),
    street("Skylark Terrace", "residential", ["H2", (2150.0, 2500.0), "H6", (2150.0, 3500.0), "H8"], 2, "M-202", 8, "high", 20.0, 360, 180,
           ["fair", "-", "steep two", "-", "small"], curved=True),
    street("Summit Crescent", "residential", ["H3", (3400.0, 2780.0), "H4", (4050.0, 2850.0), "H5", (3250.0, 3150.0), "H3"], 2, "M-203", 8, "high",
           22.0, 370, 200, ["steep", "-", "fair", "-", "steep two", "-", "fair solo"], curved=True),
    street("Reservoir Lane", "secondary", ["H5", (3350.0, 3750.0), "H8", (2100.0, 4300.0)], 2, "M-204", 16, "high", 0.2, 300, 250,
           ["flat", "-", "flat two", "flat pumper", "-", "flat"], curved=True),
    street("Larkspur Hill", "residential", ["H4", (3950.0, 1900.0), "H7", (3650.0, 700.0), "E2"], 2, "M-205", 8, "high", 28.0, 390, 240,
           ["steep", "-", "fair", "-", "steep meter", "-"], curved=True, stop_ft=1250),
    street("Old Beacon Close", "residential", ["H7", (4400.0, 1600.0), (4800.0, 1900.0)], 2, "M-206", 6, "high", 78.0, 360, 330,
           ["steep solo", "-", "-"], curved=True),
    # --- district 3: creek side and mill ----------------------------------------------------------
    street("Mill Race Lane", "industrial", ["G00", (-1200.0, -1150.0), "M1", "M2", "M3", (-3800.0, -3000.0)], 3, "M-301", 12, "low", 3.2, 400, 200,
           ["fair two", "-", "small", "fair pumper", "-", "fair high-pitot", "-", "-", "fair"], curved=True),
    street("Tannery Cut", "industrial", ["M1", (-1000.0, -1700.0), "T1", "T2", "S3"], 3, "M-302", 8, "low", 15.0, 430, 260,
           ["fair two", "-", "fair", "-", "fair pumper", "-", "steep two"], curved=True),
    street("Slipway Lane", "industrial", ["M2", (-1500.0, -2800.0), (-850.0, -3050.0)], 3, "M-303", 8, "low", 9.0, 400, 330,
           ["small", "-", "fair high-pitot"], curved=True),
    street("Osier Street", "residential", ["G20", (150.0, -1250.0), "T1"], 3, "M-304", 6, "low", 60.0, 400, 330,
           ["steep low-pitot", "-", "fair"], curved=True),
    street("Basket Lane", "residential", ["G40", (950.0, -1300.0), "T2"], 3, "M-305", 6, "low", 65.0, 400, 330,
           ["-", "steep", "-"], curved=True),
    # --- district 4: causeway and south-east --------------------------------------------------------
    street("Causeway Road", "primary", ["W1", "W2", "W3", "G01", "G11", "G21", "G31", "G41", "E1", "E2", "E3", "E4"], 4, "M-401", 12, "low", 4.2, 480, 150,
           ["fair two", "-", "small", "-", "fair high-pitot", "-", "fair pumper", "-", "-", "small meter", "-"], curved=True),
    street("Heron Drive", "secondary", ["E2", "S1", "S2", "S3"], 4, "M-402", 8, "low", 24.0, 400, 210,
           ["fair", "-", "steep two", "-", "fair solo", "-", "fair pumper"], curved=True),
    street("Plover Close", "residential", ["S1", (2700.0, -900.0), (2280.0, -760.0)], 4, "M-403", 4, "low", 180.0, 380, 330,
           ["steep tube", "-", "-"], curved=True),
    street("Teal Close", "residential", ["S2", (2200.0, -1500.0), (1850.0, -1350.0)], 4, "M-404", 4, "low", 215.0, 360, 300,
           ["deep", "-", "-"], curved=True),
    street("Bittern Close", "residential", ["S2", (3100.0, -2300.0), (3300.0, -2750.0)], 4, "M-405", 4, "low", 171.0, 360, 310,
           ["steep meter", "-"], curved=True),
    street("Dunlin Court", "residential", ["S3", (1750.0, -2700.0), (1500.0, -3050.0)], 4, "M-406", 4, "low", 210.0, 370, 330,
           ["deep", "-"], curved=True),
    street("Ropewalk", "residential", ["S1", (3900.0, -1050.0), "S4", "E3"], 4, "M-407", 8, "low", 30.0, 430, 320,
           ["fair", "-", "steep", "-", "fair", "-"], curved=True),
    street("Curlew Court", "residential", ["S4", (4950.0, -1500.0), (5300.0, -1450.0)], 4, "M-408", 4, "low", 140.0, 380, 330,
           ["-", "-"], curved=True),
    # --- district 5: west and country ---------------------------------------------------------------
    street("Sedge Avenue", "residential", ["W3", (-2480.0, 0.0), "R1", "R2", "R3", "N2"], 5, "M-501", 8, "low", 30.0, 420, 250,
           ["fair", "-", "steep", "-", "-", "fair", "steep two", "-"], curved=True),
    street("Reedmace Avenue", "residential", ["R1", "R4", "G03"], 5, "M-502", 6, "low", 55.0, 400, 250,
           ["steep", "-", "steep low-pitot", "-"], curved=True),
    street("Withy Lane", "residential", ["R4", (-1300.0, 1350.0), "R3"], 5, "M-503", 6, "low", 66.0, 400, 300,
           ["-", "-", "-"], curved=True),
    street("Marten Close", "residential", ["R1", (-3000.0, 480.0), "R5"], 5, "M-504", 4, "low", 230.0, 420, 400,
           ["steep meter", "-"], curved=True),
    street("Otter Close", "residential", ["R2", (-2650.0, 1800.0), (-3050.0, 1850.0)], 5, "M-505", 4, "low", 240.0, 380, 350,
           ["deep low-pitot", "-"], curved=True),
    street("Saltpan Road", "rural", ["W1", (-6700.0, -1950.0), (-8300.0, -1850.0), (-9800.0, -1150.0)], 5, "M-506", 8, "low", 40.0, 760, 350,
           ["steep solo", "-", "-", "-", "-", "-"], curved=True),
    street("Gull Marsh Road", "rural", ["N2", "N3", "N4", (-1700.0, 5900.0)], 5, "M-507", 8, "low", 45.0, 640, 400,
           ["steep", "-", "-", "-", "steep low-pitot", "-"], curved=True),
]

# Things standing apart from the public mains: (id, street, feet along it, offset ft, fields).
EXTRA_HYDRANTS = [
    ("P-301", "Mill Race Lane", 2780.0, 28.0, {"owner": "private", "main_id": "MILL-RAW", "main_in": 6, "zone": "mill", "potable": False, "stiffness": 22.0,
     "description": "Mill yard, untreated creek water, east gate"}),
    ("P-302", "Mill Race Lane", 3080.0, 28.0, {"owner": "private", "main_id": "MILL-RAW", "main_in": 6, "zone": "mill", "potable": False, "stiffness": 24.0,
     "description": "Mill yard, untreated creek water, boiler house"}),
    ("P-303", "Mill Race Lane", 3390.0, 28.0, {"owner": "private", "main_id": "MILL-RAW", "main_in": 6, "zone": "mill", "potable": False, "stiffness": 27.0,
     "description": "Mill yard, untreated creek water, timber stack"}),
    ("P-304", "Slipway Lane", 930.0, 27.0, {"owner": "private", "main_id": "M-309", "main_in": 6, "zone": "low", "stiffness": 40.0,
     "description": "Boat shed yard, behind the locked gate"}),
    ("P-305", "Tannery Cut", 1150.0, -27.0, {"owner": "private", "main_id": "M-310", "main_in": 8, "zone": "low", "stiffness": 13.0,
     "description": "Cold store yard, fed by its own service line"}),
    ("P-401", "Causeway Road", 11350.0, -28.0, {"owner": "private", "zone": "low", "stiffness": 60.0,
     "description": "Garden nursery; no record of the pipe that feeds it"}),
    ("P-501", "Saltpan Road", 4380.0, 27.0, {"owner": "private", "zone": "low", "stiffness": 90.0, "seasonal": True,
     "description": "Salt works, shut off for the winter"}),
    ("H-590", "Gull Marsh Road", 3380.0, -16.0, {"owner": "public", "main_id": "M-590", "main_in": 4, "zone": "low", "stiffness": 150.0, "seasonal": True,
     "description": "Bathing huts, drained from October to April"}),
    ("H-591", "Saltpan Road", 1180.0, -18.0, {"owner": "public", "main_id": "M-591", "main_in": 6, "zone": "pond", "potable": False, "stiffness": 30.0,
     "description": "Cattle market standpost, pond water"}),
]


def curve(points, smooth):
    """The street's vertices, with the index at which each control point sits."""
    if not smooth:
        return list(points), list(range(len(points)))
    out, at = [points[0]], [0]
    for i in range(len(points) - 1):
        p1, p2 = points[i], points[i + 1]
        p0 = points[i - 1] if i else (2 * p1[0] - p2[0], 2 * p1[1] - p2[1])
        p3 = points[i + 2] if i + 2 < len(points) else (2 * p2[0] - p1[0], 2 * p2[1] - p1[1])
        steps = max(1, min(6, int(math.dist(p1, p2) / 150.0)))
        for k in range(1, steps):
            t = k / steps
            out.append(
                tuple(
                    0.5 * (2 * b + (c - a) * t + (2 * a - 5 * b + 4 * c - d) * t * t + (3 * b - a - 3 * c + d) * t**3)
                    for a, b, c, d in zip(p0, p1, p2, p3)
                )
            )
        out.append(p2)
        at.append(len(out) - 1)
    return out, at


def length_ft(line):
    return sum(math.dist(a, b) for a, b in zip(line, line[1:]))


def along(line, distance):
    """The point this far along a line, and the unit normal to its left."""
    left = distance
    for a, b in zip(line, line[1:]):
        step = math.dist(a, b)
        if left <= step:
            t = left / step
            return (
                (a[0] + (b[0] - a[0]) * t, a[1] + (b[1] - a[1]) * t),
                (-(b[1] - a[1]) / step, (b[0] - a[0]) / step),
            )
        left -= step
    raise ValueError("past the end of the street")


def off_line_ft(line, point):
    best = math.inf
    for a, b in zip(line, line[1:]):
        dx, dy = b[0] - a[0], b[1] - a[1]
        t = ((point[0] - a[0]) * dx + (point[1] - a[1]) * dy) / (dx * dx + dy * dy)
        t = min(1.0, max(0.0, t))
        best = min(best, math.dist(point, (a[0] + t * dx, a[1] + t * dy)))
    return best


def build_streets():
    """Draws every street and cuts it at every junction, so that features meet end to end."""
    # Hasp Court leaves Foundry Street between two junctions: make the point it leaves from a junction.
    by_name = {s["name"]: s for s in STREETS}
    court, foundry = by_name["Hasp Court"], by_name["Foundry Street"]
    a, b = NODES["G43"], NODES["F1"]
    NODES["F0"] = (a[0] + 0.42 * (b[0] - a[0]), a[1] + 0.42 * (b[1] - a[1]))
    foundry["points"] = ["G43", "F0", "F1"]
    court["points"] = ["F0"] + court["points"][1:]

    uses = {}
    for s in STREETS:
        for p in s["points"]:
            if isinstance(p, str):
                uses[p] = uses.get(p, 0) + 1
    features = []
    for s in STREETS:
        control = [NODES[p] if isinstance(p, str) else p for p in s["points"]]
        s["line"], at = curve(control, s.get("curved", False))
        s["length"] = length_ft(s["line"])
        last = len(control) - 1
        cuts = [i for i, p in enumerate(s["points"]) if i in (0, last) or (isinstance(p, str) and uses[p] > 1)]
        for i, j in zip(cuts, cuts[1:]):
            part = s["line"][at[i] : at[j] + 1]
            features.append(
                {
                    "type": "Feature",
                    "properties": {"name": s["name"], "class": s["class"]},
                    "geometry": {"type": "LineString", "coordinates": [list(lon_lat(*p)) for p in part]},
                }
            )
    return features


# ---------------------------------------------------------------------------------------------------
# Hydrants
# ---------------------------------------------------------------------------------------------------

PUMPER_45 = {"kind": "pumper", "diameter_in": 4.5, "coefficient": 0.9}
PUMPER_50 = {"kind": "pumper", "diameter_in": 5.0, "coefficient": 0.9}
HOSE_25 = {"kind": "hose", "diameter_in": 2.5, "coefficient": 0.9}
HOSE_25_SQUARE = {"kind": "hose", "diameter_in": 2.5, "coefficient": 0.8}


def outlets_for(main_in):
    if main_in is None or main_in <= 4:
        return [HOSE_25, HOSE_25]
    if main_in >= 12 and rng.random() < 0.3:
        return [PUMPER_50, HOSE_25, HOSE_25]
    if rng.random() < 0.12:
        return [PUMPER_45, HOSE_25_SQUARE, HOSE_25_SQUARE]
    return [PUMPER_45, HOSE_25, HOSE_25]


def build_hydrants():
    """Every hydrant, with the hidden facts of the model beside its record."""
    hydrants = []
    for s in STREETS:
        distances, d = [], float(s["first_ft"])
        stop = s["length"] - s.get("stop_ft", 0.0)
        while d <= stop - 10.0:
            distances.append(d)
            d += s["spacing_ft"] * between(0.94, 1.06)
        side = 1 if rng.random() < 0.5 else -1
        s["hydrants"] = []
        for d in distances:
            (x, y), normal = along(s["line"], d)
            offset = between(12.0, 20.0) * side
            x, y = x + normal[0] * offset, y + normal[1] * offset
            if any(math.dist((x, y), (o["x"], o["y"])) < 110.0 for o in hydrants):
                continue  # the corner has its hydrant already
            n = len(s["hydrants"])
            h = {
                "street": s, "n": n, "d": d, "x": x, "y": y, "zone": s["zone"], "main_id": s["main_id"],
                "main_in": s["main_in"], "stiffness": s["stiffness"] * (1.0 + 0.05 * n / max(1, len(distances))) * between(0.95, 1.05),
                "owner": "public", "potable": True, "seasonal": None, "description": None,
            }
            h["outlets"] = outlets_for(h["main_in"])
            s["hydrants"].append(h)
            hydrants.append(h)

    for district in range(6):
        members = [h for h in hydrants if h["street"]["district"] == district]
        if district == 1:
            # The pair that the examples use comes first: Foundry Street and the court off it, in turn.
            foundry = [h for h in members if h["street"]["name"] == "Foundry Street"]
            court = [h for h in members if h["street"]["name"] == "Hasp Court"]
            first = [foundry[0], court[0], foundry[1], court[1]]
            members = first + [h for h in members if h not in first]
        for n, h in enumerate(members, start=1):
            h["id"] = f"H-{district}{n:02d}"

    by_street = {s["name"]: s for s in STREETS}
    for ident, name, d, offset, fields in EXTRA_HYDRANTS:
        s = by_street[name]
        (x, y), normal = along(s["line"], min(d, s["length"] - 12.0))
        h = {
            "id": ident, "street": s, "n": 99, "d": d, "x": x + normal[0] * offset, "y": y + normal[1] * offset,
            "main_id": None, "main_in": None, "potable": True, "seasonal": None, **fields,
        }
        h["outlets"] = outlets_for(h["main_in"])
        hydrants.append(h)

    for h in hydrants:
        h["ground"] = ground_ft(h["x"], h["y"])
        h["elevation"] = round(h["ground"])
        h["static"] = PSI_PER_FT * (ZONE_GRADE_FT[h["zone"]] - h["ground"])
        h["in_service"], h["reason"] = True, None
        h["body_loss"] = None
        h["no_elevation"] = False
    return sorted(hydrants, key=lambda h: h["id"])


# Never surveyed: no elevation on record.
NO_ELEVATION = ["H-012", "H-020", "H-113", "H-121", "H-215", "H-308", "H-416", "H-437", "H-512", "H-526", "P-401", "P-501"]

OUT_OF_SERVICE = {
    "H-008": "Struck by a truck; bonnet cracked, awaiting parts",
    "H-118": "Stem will not open; work order raised",
    "H-222": "Main shut for repair between two valves",
    "H-319": "Drain blocked and barrel frozen last winter; capped",
    "H-430": "Outlet threads damaged",
    "H-517": "Buried by road works until the kerb is reset",
    "P-304": "Owner has closed the yard valve",
}

BODY_LOSS = {
    "H-101": 0.05, "H-102": 0.05, "H-103": 0.05, "H-104": 0.05, "H-002": 0.06, "H-014": 0.04, "H-022": 0.05, "H-116": 0.04, "H-204": 0.04, "H-210": 0.05,
    "H-301": 0.03, "H-305": 0.03, "H-312": 0.05, "H-402": 0.03, "H-411": 0.04, "H-425": 0.05, "H-440": 0.09, "H-503": 0.05, "H-511": 0.07, "H-520": 0.05,
}

# Drained in winter with the country roads' summer supply.
SEASONAL = ["H-527", "H-533"]

DESCRIPTIONS = {
    "H-001": "Corner by the tide gate",
    "H-009": "Outside the ferry steps",
    "H-101": "Foundry Street, below Hasp Court",
    "H-102": "Mouth of Hasp Court",
    "H-104": "End of Hasp Court, turning circle",
    "H-201": "Foot of the rise, after the zone valve",
    "H-301": "Mill Race Lane at the old crane",
    "H-401": "Causeway, west end of the 12-inch main",
}


def hydrant_record(h):
    lon, lat = lon_lat(h["x"], h["y"])
    r = {"hydrant_id": h["id"], "location": {"lon": lon, "lat": lat}}
    if not h["no_elevation"]:
        r["elevation_ft"] = h["elevation"]
    r["outlets"] = h["outlets"]
    if h["body_loss"] is not None:
        r["body_loss_coefficient"] = h["body_loss"]
    if h["main_id"]:
        r["main_id"] = h["main_id"]
    if h["main_in"]:
        r["main_diameter_in"] = h["main_in"]
    if h["zone"] in TOWN_ZONES:
        r["pressure_zone"] = h["zone"]
    r["owner"] = h["owner"]
    r["potable"] = h["potable"]
    if h["seasonal"] is not None:
        r["seasonal"] = h["seasonal"]
    r["in_service"] = h["in_service"]
    if h["reason"]:
        r["out_of_service_reason"] = h["reason"]
    if h["description"]:
        r["description"] = h["description"]
    return r


# ---------------------------------------------------------------------------------------------------
# Flow tests
# ---------------------------------------------------------------------------------------------------


def tidy(value):
    """A reading on a half-psi scale, whole numbers without a point."""
    return int(value) if value == int(value) else value


def pumper_factor(pitot):
    """The factor for a large outlet by its velocity pressure, straight between the printed points."""
    table = [(2.0, 0.97), (3.0, 0.92), (4.0, 0.89), (5.0, 0.86), (6.0, 0.84), (7.0, 0.83)]
    if pitot <= 2.0:
        return 0.97
    for (p0, f0), (p1, f1) in zip(table, table[1:]):
        if pitot <= p1:
            return f0 + (f1 - f0) * (pitot - p0) / (p1 - p0)
    return 0.83


def outlet_gpm(o):
    q = 29.84 * o["coefficient"] * o["diameter_in"] ** 2 * math.sqrt(o["pitot_psi"])
    return q * pumper_factor(o["pitot_psi"]) if o["diameter_in"] >= 4.0 else q


def test_gpm(t):
    return float(t["flow_gpm"]) if "flow_gpm" in t else sum(outlet_gpm(o) for o in t["outlets"])


def drop_psi(stiffness, gpm):
    return stiffness * (gpm / 1000.0) ** EXPONENT


def rated(t):
    """(pressure, flow) the test is rated at; flow is None where there was no drop."""
    at = 20.0 if t["static_psi"] >= 40 else t["static_psi"] / 2.0
    drop = t["static_psi"] - t["residual_psi"]
    return at, (test_gpm(t) * ((t["static_psi"] - at) / drop) ** 0.54 if drop else None)


# Share of the static pressure that the flow takes.
DROPS = {"small": (0.05, 0.085), "fair": (0.13, 0.22), "steep": (0.29, 0.46)}


def neighbours(h, hydrants):
    """Hydrants to flow: those after it on its own main, then those before it."""
    same = [o for o in hydrants if o is not h and o["in_service"] and o["main_id"] and o["main_id"] == h["main_id"]]
    after = sorted((o for o in same if o["d"] > h["d"]), key=lambda o: o["d"])
    before = sorted((o for o in same if o["d"] < h["d"]), key=lambda o: -o["d"])
    return after[:2] + before[:2]


def available_pitot(flowing, residual_at, per_hydrant_gpm):
    return residual_at - 0.05 * (per_hydrant_gpm / 100.0) ** 2


def run_test(h, hydrants, words, tested_on, ageing=1.0, notes=None):
    """One flow test. `words` is a drop (small, fair, steep, `deep` for a residual under 20 psi, flat) and how the water was measured:
    nothing or `two` for hose outlets, `pumper`, `tube` for a 1-3/4 in flow tube, `meter`, `solo` for a
    test with one hydrant, `low-pitot` and `high-pitot` for readings outside 10 to 30 psi."""
    words = words.split()
    drop_word = words[0]
    how = words[1] if len(words) > 1 else ""
    k = h["stiffness"] * ageing
    static = round(h["static"] + between(-1.6, 1.6))
    if drop_word == "flat":
        target = between(600.0, 950.0) if how != "two" else between(1200.0, 1350.0)
    elif drop_word == "deep":
        target = 1000.0 * ((static - between(13.0, 17.0)) / k) ** 0.54
    else:
        target = 1000.0 * (between(*DROPS[drop_word]) * static / k) ** 0.54
    flowing = [h] if how == "solo" else neighbours(h, hydrants)
    most = between(5.7, 6.4) if how == "high-pitot" else between(4.7, 5.4)  # root of the highest pitot wanted

    # The jet cannot hold more than the main does at the flowing hydrant, less the barrel's loss.
    while True:
        outlets, used = choose_outlets(how, target, flowing, most)
        flow = target if outlets is None else sum(outlet_gpm(o) for o in outlets)
        residual = round(static - drop_psi(k, flow))
        if outlets is None:
            break
        worst = max(o["pitot_psi"] for o in outlets)
        room = min(
            available_pitot(f, residual + PSI_PER_FT * (h["ground"] - f["ground"]), flow / len(used)) for f in used
        )
        if worst <= room + 1.0:
            break
        target *= 0.97

    t = {"hydrant_id": h["id"], "tested_on": tested_on, "static_psi": static, "residual_psi": residual}
    if outlets is None:
        t["flow_gpm"] = int(round(flow / 10.0) * 10)
        t["residual_psi"] = round(static - drop_psi(k, t["flow_gpm"]))
    else:
        t["outlets"] = outlets
    t["flow_hydrant_ids"] = [f["id"] for f in used]
    if notes:
        t["notes"] = notes
    elif how == "tube":
        t["notes"] = "1-3/4 in flow tube on a hose outlet"
    elif how == "meter":
        t["notes"] = "Flow by calibrated meter"
    elif how == "solo":
        t["notes"] = "Gauge on the flowing hydrant's other outlet; no second hydrant free"
    return t


def choose_outlets(how, target, flowing, most_root):
    """(outlets with pitot readings or None for a meter, flowing hydrants used)."""
    def reading(q, factor):
        return tidy(max(1.0, round(2.0 * (q / factor) ** 2) / 2.0))

    first = flowing[0]
    hose = next(o for o in first["outlets"] if o["kind"] == "hose")
    per_root = 29.84 * hose["coefficient"] * hose["diameter_in"] ** 2
    if how == "meter":
        return None, [first]
    if how == "tube":
        return [{"diameter_in": 1.75, "coefficient": 0.95, "pitot_psi": reading(target, 29.84 * 0.95 * 1.75**2)}], [first]
    if how == "pumper":
        out = next(o for o in first["outlets"] if o["kind"] == "pumper")
        base = 29.84 * out["coefficient"] * out["diameter_in"] ** 2
        pitot = 2.0
        while base * pumper_factor(pitot) * math.sqrt(pitot) < target and pitot < 12.0:
            pitot += 0.5
        return [{"diameter_in": out["diameter_in"], "coefficient": out["coefficient"], "pitot_psi": tidy(pitot)}], [first]
    if how == "high-pitot":
        return [{"diameter_in": hose["diameter_in"], "coefficient": hose["coefficient"], "pitot_psi": reading(min(target, most_root * per_root), per_root)}], [first]
    if how == "low-pitot":
        count = 1
        while (target / (count * per_root)) ** 2 >= 9.0 and count < 2:
            count += 1
        pitot = min(9, reading(target / count, per_root))
        return [{"diameter_in": 2.5, "coefficient": hose["coefficient"], "pitot_psi": pitot} for _ in range(count)], [first]

    count = 2 if how == "two" and (target / (2.0 * per_root)) ** 2 >= 11.0 else 1
    most = 2 * len(flowing[:2])
    while (target / (count * per_root)) ** 2 > 27.0 and count < most:
        if (target / ((count + 1) * per_root)) ** 2 < 10.5:
            break  # one more outlet would read too low: take a little less water instead
        count += 1
    if count == 1 and (target / per_root) ** 2 < 8.0:
        # Too little water for a hose outlet to read well: a flow tube.
        return [{"diameter_in": 1.75, "coefficient": 0.95, "pitot_psi": reading(target, 29.84 * 0.95 * 1.75**2)}], [first]
    used = flowing[:1] if count <= 2 else flowing[:2]
    outlets = []
    for n in range(count):
        f = used[0] if n < 2 else used[1]
        out = next(o for o in f["outlets"] if o["kind"] == "hose")
        pitot = reading(min(target / count, most_root * per_root), per_root)
        if n % 2 == 1:
            pitot = max(1, pitot - 1)
        outlets.append({"diameter_in": out["diameter_in"], "coefficient": out["coefficient"], "pitot_psi": pitot})
    return outlets, used


RETESTS = {
    # id: (how old the earlier tests are, what became of the main since)
    "H-001": ([2013, 2018], None), "H-011": ([2017], None), "H-018": ([2014, 2019], None),
    "H-111": ([2016], None), "H-201": ([2015], "Before the second hill main was laid"), "H-209": ([2018], None),
    "H-301": ([2012, 2017], None), "H-310": ([2016], "Before the main was scraped and lined"),
    "H-401": ([2011, 2016], None), "H-410": ([2018], None), "H-425": ([2015], None), "H-501": ([2017], None),
    "H-522": ([2019], None),
}

# Main streets whose only tests are old.
OLD_STREETS = ["Anvil Street", "Bell Street", "Reedmace Avenue", "Gull Marsh Road", "Clay Pit Lane", "Old Beacon Close", "Dunlin Court", "Basket Lane"]

VOIDED = [
    # (id of the gauge hydrant, words, date, reason)
    ("H-003", "steep", "2022-06-02", "Gauge found 6 psi high when calibrated; repeated later"),
    ("H-203", "fair two", "2024-04-18", "Hill pump started during the test; static not steady"),
    ("H-407", "fair two", "2023-05-30", "Entered against the wrong hydrant"),
    ("H-504", "steep", "2022-09-21", "Outlet size written as 4.5 in; it was 2.5 in"),
    ("CURLEW", "steep meter", "2024-07-11", "Street valve found half shut; to be tested again"),
]


def test_date(first_year, last_year):
    year = first_year + int(rng.random() * (last_year - first_year + 1))
    month = pick([4, 5, 5, 6, 6, 9, 9, 10])
    return f"{year:04d}-{month:02d}-{1 + int(rng.random() * 28):02d}"


def build_tests(hydrants):
    by_id = {h["id"]: h for h in hydrants}
    tests = []

    # The two worked examples that the guides use.
    tests.append({
        "hydrant_id": "H-101", "tested_on": "2025-05-14", "static_psi": 60, "residual_psi": 40, "flow_gpm": 600,
        "flow_hydrant_ids": ["H-103"], "notes": "Flow by calibrated meter",
    })
    tests.append({
        "hydrant_id": "H-102", "tested_on": "2025-05-14", "static_psi": 60, "residual_psi": 30, "flow_gpm": 400,
        "flow_hydrant_ids": ["H-104"], "notes": "Flow by calibrated meter; dead-end 4-inch main",
    })

    for s in STREETS:
        span = (2012, 2020) if s["name"] in OLD_STREETS else (2022, 2026)
        plan = s["plan"]
        for h in s["hydrants"]:
            words = plan[h["n"] % len(plan)]
            if words == "-":
                continue
            years, notes = RETESTS.get(h["id"], ([], None))
            h["tested"] = True
            for year in years:
                # An untouched main grows rough with the years; one that was renewed was worse before.
                ageing = 1.0 - 0.012 * (2024 - year) if notes is None else 1.35
                tests.append(run_test(h, hydrants, words, test_date(year, year), ageing, notes))
            date = test_date(*span)
            tests.append(run_test(h, hydrants, words, date))

    mill = run_test(by_id["P-301"], hydrants, "fair two", "2023-06-14")
    mill["notes"] = "Mill fire pump running; yard system only"
    tests.append(mill)
    tests.append(run_test(by_id["P-305"], hydrants, "fair solo", "2024-05-22"))
    tests.append(run_test(by_id["H-590"], hydrants, "deep solo", "2023-07-03"))
    tests.append(run_test(by_id["H-591"], hydrants, "steep solo", "2018-06-19"))

    for ident, words, date, reason in VOIDED:
        h = next(h for h in hydrants if h["street"]["name"] == "Curlew Court") if ident == "CURLEW" else by_id[ident]
        t = run_test(h, hydrants, words, date)
        t["void_reason"] = reason
        if "6 psi high" in reason:
            t["static_psi"] += 6
            t["residual_psi"] += 6
        if "written as 4.5 in" in reason:
            t["outlets"][0]["diameter_in"] = 4.5
        tests.append(t)

    tests.sort(key=lambda t: (t["tested_on"], t["hydrant_id"]))
    return tests


# ---------------------------------------------------------------------------------------------------
# Equipment
# ---------------------------------------------------------------------------------------------------

EQUIPMENT = {
    "hose_types": [
        {"id": "supply-5in-2019", "name": "5-inch supply, 2019 purchase", "diameter_in": 5.0, "loss_coefficient": 0.07, "max_operating_psi": 185,
         "service_test_psi": 200, "source": "two-gauge test 2024"},
        {"id": "supply-4in", "name": "4-inch supply", "diameter_in": 4.0, "loss_coefficient": 0.2, "max_operating_psi": 185, "service_test_psi": 200,
         "source": "handbook value; not tested here"},
    ],
    "appliances": [
        {"id": "manifold-ldh", "name": "Large-diameter manifold, one 5-inch in, one 5-inch and four 2-1/2-inch out", "loss_coefficient": 0.06,
         "max_operating_psi": 200, "source": "two-gauge test 2024"},
    ],
    "hydrant_valves": [
        {"id": "valve-a", "name": "Four-way hydrant valve A", "through_coefficient": 0.22, "to_pump_coefficient": 0.10, "from_pump_coefficient": 0.05,
         "source": "department test 2024, three flows"},
    ],
    "pumpers": [
        {"id": "engine-1", "name": "Engine 1", "rated_flow_gpm": 1500, "intake_floor_psi": 20, "max_discharge_psi": 185, "tank_gal": 750,
         "hose": [{"hose_type_id": "supply-5in-2019", "length_ft": 1000}]},
        {"id": "engine-2", "name": "Engine 2", "rated_flow_gpm": 1250, "intake_floor_psi": 20, "max_discharge_psi": 250, "tank_gal": 1000,
         "hose": [{"hose_type_id": "supply-4in", "length_ft": 800}, {"hose_type_id": "std-3in", "length_ft": 600}]},
        {"id": "engine-3", "name": "Engine 3", "rated_flow_gpm": 1000, "intake_floor_psi": 20, "max_discharge_psi": 185, "tank_gal": 500,
         "hose": [{"hose_type_id": "supply-5in-2019", "length_ft": 600}]},
        {"id": "ladder-1", "name": "Ladder 1", "rated_flow_gpm": 2000, "intake_floor_psi": 20, "max_discharge_psi": 250,
         "points": [{"flow_gpm": 1000, "net_psi": 254}, {"flow_gpm": 1400, "net_psi": 206}, {"flow_gpm": 2000, "net_psi": 156}], "tank_gal": 400,
         "hose": [{"hose_type_id": "supply-5in-2019", "length_ft": 1000}]},
    ],
    "lay_profiles": [
        {"id": "five-inch-valve", "name": "5-inch with hydrant valve", "hydrant_valve_id": "valve-a", "hose_type_id": "supply-5in-2019", "lines": 1,
         "carried_ft": 1000, "scene_floor_psi": 20, "main_floor_psi": 20},
        {"id": "five-inch-plain", "name": "5-inch, no valve", "hose_type_id": "supply-5in-2019", "lines": 1, "carried_ft": 600, "scene_floor_psi": 20,
         "main_floor_psi": 20},
        {"id": "four-inch-valve", "name": "4-inch with hydrant valve", "hydrant_valve_id": "std-four-way", "hose_type_id": "supply-4in", "lines": 1,
         "carried_ft": 800, "scene_floor_psi": 20, "main_floor_psi": 20},
        {"id": "twin-three-inch", "name": "Twin 3-inch into a siamese", "hose_type_id": "std-3in", "lines": 2, "carried_ft": 300,
         "scene_appliance_ids": ["std-siamese"], "scene_floor_psi": 20, "main_floor_psi": 20},
        {"id": "five-inch-long", "name": "Long 5-inch with hydrant valve and manifold", "hydrant_valve_id": "valve-a", "hose_type_id": "supply-5in-2019",
         "lines": 1, "carried_ft": 1600, "scene_appliance_ids": ["manifold-ldh"], "scene_floor_psi": 20, "main_floor_psi": 20},
    ],
}

SHIPPED = {"std-1-75in", "std-2-5in", "std-3in", "std-4in", "std-5in", "std-6in", "std-wye", "std-siamese", "std-manifold", "std-master-stream", "std-four-way"}


# ---------------------------------------------------------------------------------------------------
# What the data shows, and whether it holds together
# ---------------------------------------------------------------------------------------------------

BORROW_WITHIN_FT = 1000.0


def cases(hydrants, tests):
    """Case name -> hydrant ids, worked out from the records themselves."""
    good = [t for t in tests if "void_reason" not in t]
    own, flowed = {}, {}
    for t in good:
        own.setdefault(t["hydrant_id"], []).append(t)
        for f in t["flow_hydrant_ids"]:
            if f != t["hydrant_id"]:
                flowed.setdefault(f, []).append(t)
    by_id = {h["id"]: h for h in hydrants}
    latest = {i: max(ts, key=lambda t: t["tested_on"]) for i, ts in own.items()}

    def where(rule):
        return [h["id"] for h in hydrants if h["id"] in latest and rule(latest[h["id"]])]

    def drop_share(t):
        return (t["static_psi"] - t["residual_psi"]) / t["static_psi"]

    def pitots(t):
        return [o["pitot_psi"] for o in t.get("outlets", [])]

    def tested_beside(h):
        return any(
            h["main_id"] and by_id[i]["main_id"] == h["main_id"] and math.dist((h["x"], h["y"]), (by_id[i]["x"], by_id[i]["y"])) < BORROW_WITHIN_FT
            for i in own
        )

    def on_tested_main(h):
        return any(h["main_id"] and by_id[i]["main_id"] == h["main_id"] for i in own)

    untested = [h for h in hydrants if h["id"] not in own]
    lenders = [h for h in untested if h["id"] in flowed]
    rest = [h for h in untested if h["id"] not in flowed]
    found = {
        "worked example: 60 to 40 psi at 600 gpm": ["H-101"],
        "weak example: 60 to 30 psi at 400 gpm, dead-end 4-inch main": ["H-102"],
        "strong: rated over 1500 gpm": where(lambda t: rated(t)[1] is not None and rated(t)[1] > 1500.0),
        "ordinary: rated 500 to 1500 gpm": where(lambda t: rated(t)[1] is not None and 500.0 <= rated(t)[1] <= 1500.0),
        "weak: rated under 500 gpm": where(lambda t: rated(t)[1] is not None and rated(t)[1] < 500.0),
        "no drop: static equals residual": where(lambda t: t["static_psi"] == t["residual_psi"]),
        "drop under 10 %": where(lambda t: 0.0 < drop_share(t) < 0.10),
        "drop 10 to 25 %": where(lambda t: 0.10 <= drop_share(t) < 0.25),
        "drop 25 % or more": where(lambda t: drop_share(t) >= 0.25),
        "latest test over five years old": where(lambda t: t["tested_on"] < OLD_BEFORE),
        "static under 40 psi": where(lambda t: t["static_psi"] < 40),
        "residual under 20 psi": where(lambda t: t["residual_psi"] < 20),
        "pitot under 10 psi": where(lambda t: any(p < 10 for p in pitots(t))),
        "pitot over 30 psi": where(lambda t: any(p > 30 for p in pitots(t))),
        "single-hydrant test": where(lambda t: t["flow_hydrant_ids"] == [t["hydrant_id"]]),
        "several outlets flowed": where(lambda t: len(pitots(t)) > 1),
        "two flow hydrants": where(lambda t: len(t["flow_hydrant_ids"]) > 1),
        "pumper outlet flowed": where(lambda t: any(o["diameter_in"] >= 4.0 for o in t.get("outlets", []))),
        "flow by meter": where(lambda t: "flow_gpm" in t),
        "tests over the years": [h["id"] for h in hydrants if len(own.get(h["id"], [])) > 1],
        "a voided test and a good one": [h["id"] for h in hydrants if h["id"] in own and any(t["hydrant_id"] == h["id"] and "void_reason" in t for t in tests)],
        "only a voided test": [h["id"] for h in untested if any(t["hydrant_id"] == h["id"] and "void_reason" in t for t in tests)],
        "no test; flowed in a neighbour's (borrows it)": [h["id"] for h in lenders],
        "no test; a tested hydrant on its main within 1000 ft (borrows it)": [h["id"] for h in rest if tested_beside(h)],
        "no test; its main's tests are all over 1000 ft away": [h["id"] for h in rest if on_tested_main(h) and not tested_beside(h)],
        "no usable test on its main": [h["id"] for h in rest if not on_tested_main(h)],
        "elevation not recorded": [h["id"] for h in hydrants if h["no_elevation"]],
        "body loss measured": [h["id"] for h in hydrants if h["body_loss"] is not None],
        "high pressure zone": [h["id"] for h in hydrants if h["zone"] == "high"],
        "private": [h["id"] for h in hydrants if h["owner"] == "private"],
        "not potable": [h["id"] for h in hydrants if not h["potable"]],
        "seasonal": [h["id"] for h in hydrants if h["seasonal"]],
        "out of service": [h["id"] for h in hydrants if not h["in_service"]],
    }
    return found


def check(features, hydrants, tests, found):
    ids = [h["id"] for h in hydrants]
    by_id = {h["id"]: h for h in hydrants}
    assert len(ids) == len(set(ids)), "hydrant ids repeat"
    assert all(re.fullmatch(r"[A-Za-z0-9_-]{1,64}", i) for i in ids)
    assert len(ids) >= 160, len(ids)
    assert 60 <= len(features) <= 110, len(features)
    assert 105 <= len(tests) <= 125, len(tests)

    lines = [s["line"] for s in STREETS]
    for h in hydrants:
        assert min(off_line_ft(line, (h["x"], h["y"])) for line in lines) <= 30.0, h["id"]
        assert 20.0 <= h["elevation"] <= 260.0, (h["id"], h["elevation"])
        assert 25.0 <= h["static"] <= 105.0, (h["id"], h["static"])
        assert h["in_service"] == (h["reason"] is None)
    for a in hydrants:
        for b in hydrants:
            if a is not b:
                assert math.dist((a["x"], a["y"]), (b["x"], b["y"])) > 40.0, (a["id"], b["id"])
    mains = {}
    for h in hydrants:
        if h["main_id"]:
            mains.setdefault(h["main_id"], set()).add((h["main_in"], h["zone"]))
    assert all(len(v) == 1 for v in mains.values()), "one main, one size and one zone"

    # The streets are one network: every feature can be reached from every other.
    links = {}
    for f in features:
        ends = [tuple(f["geometry"]["coordinates"][0]), tuple(f["geometry"]["coordinates"][-1])]
        links.setdefault(ends[0], set()).add(ends[1])
        links.setdefault(ends[1], set()).add(ends[0])
    seen, todo = set(), [next(iter(links))]
    while todo:
        n = todo.pop()
        if n not in seen:
            seen.add(n)
            todo.extend(links[n])
    assert len(seen) == len(links), "the streets fall into pieces"

    # They meet only at their ends.
    bits = [(n, a, b) for n, f in enumerate(features) for a, b in zip(f["geometry"]["coordinates"], f["geometry"]["coordinates"][1:])]

    def turn(a, b, c):
        return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])

    for n, (f1, a, b) in enumerate(bits):
        for f2, c, d in bits[n + 1 :]:
            if len({tuple(p) for p in (a, b, c, d)}) == 4:
                cross = turn(a, b, c) * turn(a, b, d) < 0 and turn(c, d, a) * turn(c, d, b) < 0
                assert not cross, (features[f1]["properties"]["name"], features[f2]["properties"]["name"])

    for ident in RETESTS:
        assert sum(1 for t in tests if t["hydrant_id"] == ident) > 1, ident
    keys = set()
    for t in tests:
        h = by_id[t["hydrant_id"]]
        assert all(f in by_id for f in t["flow_hydrant_ids"])
        assert ("flow_gpm" in t) != ("outlets" in t)
        assert t["tested_on"] < TODAY
        assert 0 <= t["residual_psi"] <= t["static_psi"]
        assert 100.0 < test_gpm(t) < 4000.0, t
        assert (t["hydrant_id"], t["tested_on"]) not in keys, "two tests on one day"
        keys.add((t["hydrant_id"], t["tested_on"]))
        for f in t["flow_hydrant_ids"]:
            if f != h["id"]:
                other = by_id[f]
                assert other["main_id"] == h["main_id"] and other["zone"] == h["zone"], (h["id"], f)
                assert other["in_service"], (h["id"], f)
                assert math.dist((h["x"], h["y"]), (other["x"], other["y"])) < 1500.0, (h["id"], f)
        if "void_reason" in t:
            continue  # voided because it does not hold together
        assert abs(t["static_psi"] - h["static"]) <= 3.0, (h["id"], t["static_psi"], h["static"])
        for o in t.get("outlets", []):
            assert 0.0 < o["pitot_psi"] <= t["residual_psi"] + 3.0, t
        # Every outlet that was measured is one the flowing hydrants have (a flow tube screws onto one).
        have = [o["diameter_in"] for f in t["flow_hydrant_ids"] for o in by_id[f]["outlets"]]
        for o in t.get("outlets", []):
            bore = 2.5 if o["diameter_in"] == 1.75 else o["diameter_in"]
            assert bore in have, t
            have.remove(bore)
        if t["residual_psi"] < t["static_psi"]:
            k = (t["static_psi"] - t["residual_psi"]) / (test_gpm(t) / 1000.0) ** EXPONENT
            half_psi = 0.6 / (test_gpm(t) / 1000.0) ** EXPONENT
            assert 0.75 * h["stiffness"] - half_psi <= k <= 1.45 * h["stiffness"] + half_psi, (t, k, h["stiffness"])

    for name, members in found.items():
        least = 1 if "example" in name or name == "only a voided test" else 2
        assert len(members) >= least, (name, members)
        assert len(members) == len(set(members))
    for ident, gpm, residual, other in (("H-101", 600, 40, "H-103"), ("H-102", 400, 30, "H-104")):
        mine = [t for t in tests if t["hydrant_id"] == ident]
        assert len(mine) == 1 and mine[0]["static_psi"] == 60 and mine[0]["residual_psi"] == residual and mine[0]["flow_gpm"] == gpm
        assert mine[0]["flow_hydrant_ids"] == [other] and mine[0]["tested_on"].startswith("2025")
        h = by_id[ident]
        assert h["body_loss"] == 0.05 and h["in_service"] and h["potable"] and h["owner"] == "public" and not h["no_elevation"]
    assert by_id["H-102"]["main_in"] == 4

    lib = {k: {r["id"] for r in rows} for k, rows in EQUIPMENT.items()}
    for rows in EQUIPMENT.values():
        assert len({r["id"] for r in rows}) == len(rows)
    hose = lib["hose_types"] | SHIPPED
    for p in EQUIPMENT["pumpers"]:
        assert all(x["hose_type_id"] in hose for x in p["hose"])
    for p in EQUIPMENT["lay_profiles"]:
        assert p["hose_type_id"] in hose
        assert p.get("hydrant_valve_id", "std-four-way") in lib["hydrant_valves"] | SHIPPED
        assert all(a in lib["appliances"] | SHIPPED for a in p.get("scene_appliance_ids", []))


# ---------------------------------------------------------------------------------------------------
# Ground: what hose is laid along, what it does not cross, and what asks for water
# ---------------------------------------------------------------------------------------------------

# The railway runs south of the centre. Osier Street has a bridge over it; Mill Race Lane, Basket Lane and Heron Drive end at it for a hose.
RAILWAY = [(-4200.0, -1750.0), (-1500.0, -1240.0), (600.0, -1130.0), (2000.0, -1010.0), (4300.0, -1650.0)]
BRIDGE_STREET = "Osier Street"
# Nothing leads to the island but a ferry.
ISLAND = [(5200.0, 1500.0), (5450.0, 1620.0), (5700.0, 1640.0)]


def crosses(a, b):
    """Whether the way from a to b meets the railway."""

    def side(p, q, r):
        return (q[0] - p[0]) * (r[1] - p[1]) - (q[1] - p[1]) * (r[0] - p[0]) > 0.0

    return any(side(p, q, a) != side(p, q, b) and side(a, b, p) != side(a, b, q) for p, q in zip(RAILWAY, RAILWAY[1:]))


def map_feature(properties, line):
    geometry = {"type": "LineString", "coordinates": [list(lon_lat(*p)) for p in line]}
    return {"type": "Feature", "properties": properties, "geometry": geometry}


def place_of(position):
    lon, lat = position
    return (lon - LON0) * FT_PER_DEG * math.cos(math.radians(LAT0)), (lat - LAT0) * FT_PER_DEG


def build_map(features):
    """The streets with ids and levels, the bridge cut out of its street, the railway and the island."""
    found, bridges = [], 0
    for i, feature in enumerate(features):
        own = {"street_id": f"S-{i:03}", **feature["properties"]}
        coordinates = feature["geometry"]["coordinates"]
        places = [place_of(c) for c in coordinates]
        at = next((j for j, pair in enumerate(zip(places, places[1:])) if crosses(*pair)), None)
        if own["name"] != BRIDGE_STREET or at is None:
            found.append({**feature, "properties": own})
            continue
        bridges += 1
        assert 0 < at < len(places) - 2, "the bridge needs a ramp on either side"
        cuts = [(0, at, 0, 1), (at, at + 1, 1, 1), (at + 1, len(places) - 1, 1, 0)]
        for part, (first, last, from_level, to_level) in zip("abc", cuts):
            properties = {**own, "street_id": own["street_id"] + part, "from_level": from_level, "to_level": to_level}
            geometry = {"type": "LineString", "coordinates": coordinates[first : last + 1]}
            found.append({"type": "Feature", "properties": properties, "geometry": geometry})
    assert bridges == 1, bridges
    found.append(map_feature({"street_id": "R-1", "name": "Marsh Line", "class": "rail", "barrier": "railway"}, RAILWAY))
    found.append(map_feature({"street_id": "S-900", "name": "Holm Quay", "class": "residential"}, ISLAND))
    return found


def needs():
    """What buildings ask for, from the small to the large. None is not known to anybody."""
    dwelling = [{"method": "iso_dwelling", "edition": "from_2012", "separation_ft": ft} for ft in (8.0, 15.0, 25.0, 60.0)]
    shop = {"method": "ifc_b105", "edition": "from_2015", "building_type": "V-B", "dwelling": False, "sprinklers": "none"}
    shops = [{**shop, "area_sq_ft": area} for area in (3200.0, 7400.0, 17000.0)]
    return [*dwelling, *dwelling, *shops, {"needed_flow_gpm": 2500.0, "source": "preplan of 2024"}]


def build_demand(features):
    """A building beside the middle of every other street segment, and a few that are cases of their own."""
    own, points = random.Random(SEED + 1), []
    kinds = needs()

    def add(x, y, name, need, is_height_known=True):
        lon, lat = lon_lat(x, y)
        point = {"demand_point_id": f"B-{len(points) + 1:03}", "location": {"lon": lon, "lat": lat}}
        if is_height_known:
            point["elevation_ft"] = round(ground_ft(x, y), 1)
        point.update({"name": name} if name else {}, **({"need": need} if need else {}))
        points.append(point)

    for i, feature in enumerate(features[::3]):
        places = [place_of(c) for c in feature["geometry"]["coordinates"]]
        j = (len(places) - 1) // 2
        (x0, y0), (x1, y1) = places[j], places[j + 1]
        length, off = math.dist(places[j], places[j + 1]), 40.0 + 40.0 * own.random()
        x, y = (x0 + x1) / 2 - off * (y1 - y0) / length, (y0 + y1) / 2 + off * (x1 - x0) / length
        add(x, y, None, kinds[i % len(kinds)], is_height_known=i % 9 != 4)
    add(-1250.0, -2500.0, "Tannery works", {"needed_flow_gpm": 3500.0, "source": "insurer's survey of 2023"})
    add(3800.0, 1650.0, "Beacon school", {"needed_flow_gpm": 2250.0, "source": "preplan of 2025"})
    add(-180.0, 430.0, "Market hall", None)
    add(2600.0, -2300.0, "Boathouse", None, is_height_known=False)
    add(5450.0, 1660.0, "Holm lighthouse keeper's house", kinds[3])
    add(5640.0, 1680.0, "Holm chandlery", kinds[8])
    add(700.0, -1230.0, "Signal box", kinds[0])
    add(-7000.0, 900.0, "Marsh farm", kinds[3])
    add(-1600.0, 5600.0, "Gull Marsh cottage", kinds[3])
    return points


def build_districts():
    """Two that meet at the railway, the northern one with the mill's own ground cut out of it."""

    def ring(places):
        return [list(lon_lat(*p)) for p in [*places, places[0]]]

    north = [(-6000.0, -1750.0), *RAILWAY, (6200.0, -1650.0), (6200.0, 6200.0), (-6000.0, 6200.0)]
    south = [(-6000.0, -3600.0), (6200.0, -3600.0), (6200.0, -1650.0), *reversed(RAILWAY), (-6000.0, -1750.0)]
    ground = [(-700.0, 700.0), (-300.0, 700.0), (-300.0, 1100.0), (-700.0, 1100.0)]

    def district(ident, name, rings):
        geometry = {"type": "Polygon", "coordinates": [ring(r) for r in rings]}
        return {"type": "Feature", "id": ident, "properties": {"name": name}, "geometry": geometry}

    return [district("north", "North of the line", [north, ground]), district("south", "South of the line", [south])]


def readme(features, hydrants, tests, found, demand):
    def few(members):
        shown = ", ".join(f"`{i}`" for i in members[:8])
        return shown if len(members) <= 8 else shown + ", ..."

    rows = "\n".join(f"| {name} | {len(members)} | {few(members)} |" for name, members in found.items())
    return f"""# Quenderby, the demo town

Quenderby is invented: its streets, hydrants, flow tests, engines and hose were made up for this demo. It sits in
open ocean so that it matches no real place, and any likeness to one is chance. Nothing here is a measurement.

The town has an old centre grid, a curved main road (Causeway Road) on a 12-inch main, a hill with its own high pressure zone, a
mill lane along the creek, cul-de-sacs on thin dead-end mains, and two country roads. Low zone: hydraulic grade
{ZONE_GRADE_FT["low"]:.0f} ft. High zone: {ZONE_GRADE_FT["high"]:.0f} ft. Static pressure follows from that and the ground.

| file | holds |
|---|---|
| `streets.geojson` | {len(features)} street segments of {len(STREETS)} streets, cut at every junction; beside them a railway with one bridge over it, and a street on an island |
| `demand_points.json` | {len(demand)} buildings and what each asks for; of some nobody knows it, of some not how high they stand |
| `districts.json` | two districts, one with a hole |
| `hydrants.json` | {len(hydrants)} hydrants; `H-0..` centre, `H-1..` north slope, `H-2..` hill, `H-3..` creek, `H-4..` causeway and south-east, `H-5..` west and country, `P-...` private |
| `flow_tests.json` | {len(tests)} flow tests, oldest first |
| `equipment.json` | the department's own hose, appliances, hydrant valve, pumpers and lay profiles; ids starting `std-` are the rows shipped with the service |
| `generate.py` | where all of the above comes from; `python generate.py` writes the same bytes again |

## Which hydrants show what

Test cases go by each hydrant's latest test that was not voided; ages are as of {TODAY}.

| case | hydrants | ids |
|---|---|---|
{rows}
"""


def one_per_line(records):
    return "[\n" + ",\n".join(" " + json.dumps(r, ensure_ascii=False) for r in records) + "\n]"


def build():
    features = build_streets()
    hydrants = build_hydrants()
    known = {h["id"]: h for h in hydrants}
    for ident in NO_ELEVATION:
        known[ident]["no_elevation"] = True
    for ident, reason in OUT_OF_SERVICE.items():
        known[ident]["in_service"], known[ident]["reason"] = False, reason
    for ident, value in BODY_LOSS.items():
        known[ident]["body_loss"] = value
    for ident in SEASONAL:
        known[ident]["seasonal"] = True
    for ident, text in DESCRIPTIONS.items():
        known[ident]["description"] = text
    tests = build_tests(hydrants)
    found = cases(hydrants, tests)
    return features, hydrants, tests, found


def main():
    features, hydrants, tests, found = build()
    check(features, hydrants, tests, found)
    demand = build_demand(features)
    files = {
        "streets.geojson": '{"type": "FeatureCollection", "features": ' + one_per_line(build_map(features)) + "}\n",
        "demand_points.json": one_per_line(demand) + "\n",
        "districts.json": one_per_line(build_districts()) + "\n",
        "hydrants.json": one_per_line([hydrant_record(h) for h in hydrants]) + "\n",
        "flow_tests.json": one_per_line(tests) + "\n",
        "equipment.json": "{\n" + ",\n".join(f'"{k}": {one_per_line(v)}' for k, v in EQUIPMENT.items()) + "\n}\n",
        "README.md": readme(features, hydrants, tests, found, demand),
    }
    for name, text in files.items():
        (HERE / name).write_bytes(text.encode("utf-8"))
    print(f"{len(features)} street segments, {len(hydrants)} hydrants, {len(tests)} flow tests")


if __name__ == "__main__":
    main()
