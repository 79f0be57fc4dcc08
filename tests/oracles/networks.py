"""Street networks to hold the reach against: the demo town, and real ones that packages ship.

  python networks.py FOLDER      fetches the packages into the folder

The real ones are drawn from OpenStreetMap, (c) OpenStreetMap contributors, under the Open Database Licence (ODbL) 1.0. They are fetched when the
oracles run, into a folder that is thrown away, and are no part of this repository. A package that cannot be had is a failure and never a pass.

A network is a dictionary: `lines` (each `points` in degrees, `levels` of its first and last point, `barrier` or None) and, for the demo town
alone, `places` and `hydrants` in degrees.
"""

import json
import math
import random
import sqlite3
import struct
import subprocess
import sys
import tarfile
import tempfile
import zipfile
from pathlib import Path

TOWN = Path(__file__).resolve().parents[2] / "crates/service/data/demo-town"
# Pinned, of one platform whichever this runs on: only its data are wanted.
WHEEL = ["aequilibrae==1.7.2", "--platform", "manylinux_2_28_x86_64", "--python-version", "3.11", "--only-binary=:all:"]
TARBALL = "geojson-path-finder@2.1.0"
EQUATOR_FT = 6_378_137 / 0.3048
ECCENTRICITY_2 = 0.00669437999014
FT_PER_DEG = EQUATOR_FT * math.pi / 180


def demo_town() -> dict:
    features = json.loads((TOWN / "streets.geojson").read_text())["features"]
    lines = []
    for feature in features:
        said = feature["properties"]
        levels = (said.get("from_level", 0), said.get("to_level", 0))
        lines.append({"points": feature["geometry"]["coordinates"], "levels": levels, "barrier": said.get("barrier")})
    spots = {}
    for name in ("hydrants", "demand_points"):
        rows = json.loads((TOWN / f"{name}.json").read_text())
        spots[name] = [[row["location"]["lon"], row["location"]["lat"]] for row in rows]
    return {"lines": lines, "places": spots["demand_points"], "hydrants": spots["hydrants"]}


def fetched(folder: Path) -> None:
    """Both packages into the folder, by the registries' own clients."""
    for command in (
        [sys.executable, "-m", "pip", "download", "-q", "--no-deps", "-d", str(folder), *WHEEL],
        ["npm", "pack", "--silent", "--pack-destination", str(folder), TARBALL],
    ):
        subprocess.run(command, check=True, stdout=subprocess.DEVNULL)


def line_of_blob(blob: bytes) -> list:
    """A line out of SpatiaLite's own form: a head of 39 bytes with the byte order at 1, the kind, the count, pairs of doubles."""
    order = "<" if blob[1] == 1 else ">"
    kind, count = struct.unpack_from(order + "ii", blob, 39)
    if blob[0] != 0 or blob[38] != 0x7C or kind != 2:
        raise ValueError("no line of SpatiaLite")
    flat = struct.unpack_from(f"{order}{2 * count}d", blob, 47)
    return [list(pair) for pair in zip(flat[::2], flat[1::2])]


def of_model(folder: Path, name: str) -> dict:
    """One of the networks of the transport-modelling package: its links but those that are no street, its motorways not to be crossed."""
    (wheel,) = folder.glob("aequilibrae-*.whl")
    with zipfile.ZipFile(wheel) as outer, outer.open(f"aequilibrae/reference_files/{name}.zip") as inner:
        with zipfile.ZipFile(inner) as model, tempfile.TemporaryDirectory() as work:
            database = sqlite3.connect(model.extract("project_database.sqlite", work))
            rows = database.execute(
                "SELECT geometry, link_type FROM links WHERE link_type <> 'centroid_connector' ORDER BY link_id"
            ).fetchall()
            database.close()
    barrier = lambda kind: "limited_access" if kind == "motorway" else None
    return {"lines": [{"points": line_of_blob(blob), "levels": (0, 0), "barrier": barrier(kind)} for blob, kind in rows]}


def of_path_finder(folder: Path) -> dict:
    """The large network of the path-finding package: ways with their layers, and motorways that hose may not cross."""
    (tarball,) = folder.glob("geojson-path-finder-*.tgz")
    with tarfile.open(tarball) as packed:
        features = json.load(packed.extractfile("package/test/large-network.json"))["features"]
    ways = [way for way in features if way["geometry"]["type"] == "LineString"]
    layer = lambda way: int(way["properties"].get("layer") or 0)
    on_ground = {tuple(point) for way in ways if layer(way) == 0 for point in way["geometry"]["coordinates"]}
    lines = []
    for way in ways:
        points = way["geometry"]["coordinates"]
        # A bridge or a tunnel comes to the ground where it meets what lies there.
        levels = tuple(0 if tuple(points[end]) in on_ground else layer(way) for end in (0, -1))
        barrier = "limited_access" if way["properties"]["highway"] == "motorway" else None
        lines.append({"points": points, "levels": levels, "barrier": barrier})
    return {"lines": lines}


class Plane:
    """Feet east and north on the plane that touches the ellipsoid in the middle: another projection than the service's."""

    def __init__(self, lines: list):
        points = [point for line in lines for point in line["points"]]
        lon, lat = (sorted(point[axis] for point in points)[len(points) // 2] for axis in (0, 1))
        self.middle = [lon, lat]
        (sin_lon, cos_lon), (sin_lat, cos_lat) = ((math.sin(rad), math.cos(rad)) for rad in map(math.radians, (lon, lat)))
        self.origin = earth_ft(lon, lat)
        self.east = (-sin_lon, cos_lon, 0.0)
        self.north = (-sin_lat * cos_lon, -sin_lat * sin_lon, cos_lat)

    def feet(self, point: list) -> list:
        away = [at - own for at, own in zip(earth_ft(*point), self.origin)]
        return [sum(part * unit for part, unit in zip(away, axis)) for axis in (self.east, self.north)]

    def degrees(self, wanted: list) -> list:
        """The other way, by steps that each leave less than a hundredth of what was missing."""
        found = list(self.middle)
        for _ in range(6):
            x, y = self.feet(found)
            found[0] += (wanted[0] - x) / FT_PER_DEG / math.cos(math.radians(found[1]))
            found[1] += (wanted[1] - y) / FT_PER_DEG
        return found


def earth_ft(lon: float, lat: float) -> tuple:
    """From the middle of the earth, on the ellipsoid of WGS 84."""
    lon, lat = math.radians(lon), math.radians(lat)
    across = EQUATOR_FT / math.sqrt(1 - ECCENTRICITY_2 * math.sin(lat) ** 2)
    flat = across * math.cos(lat)
    return flat * math.cos(lon), flat * math.sin(lon), across * (1 - ECCENTRICITY_2) * math.sin(lat)


def nudged(lines: list, seed: int) -> list:
    """Every tenth line begins a little off where it did, as where two drew it: by less than joins still, or by more. At most one at any place."""
    r, moved, found = random.Random(seed), set(), []
    for line in lines:
        first = tuple(line["points"][0])
        if r.random() < 0.1 and first not in moved and not line["barrier"]:
            moved.add(first)
            turn, off = r.uniform(0, 2 * math.pi), r.uniform(*r.choice(((0.1, 0.38), (0.62, 1.0))))
            start = [first[0] + off * math.cos(turn), first[1] + off * math.sin(turn)]
            line = {**line, "points": [start, *line["points"][1:]]}
        found.append(line)
    return found


def invented(lines: list, seed: int, most_hydrants: int | None, place_count: int) -> tuple:
    """Hydrants every 400 to 800 ft along streets, and places beside them. `lines` are in feet; so is what comes back."""
    r = random.Random(seed)
    hydrants, segments, gap = [], [], r.uniform(400, 800)
    for line in lines:
        if line["barrier"]:
            continue
        for a, b in zip(line["points"], line["points"][1:]):
            ft = math.dist(a, b)
            if ft == 0:
                continue
            segments.append((a, b, ft))
            at = gap
            while at < ft:
                hydrants.append(beside(a, b, ft, at, r.choice((-1, 1)) * r.uniform(3, 15)))
                gap = r.uniform(400, 800)
                at += gap
            gap = at - ft
    r.shuffle(hydrants)
    places = []
    for a, b, ft in r.choices(segments, weights=[ft for *_, ft in segments], k=place_count):
        # Some lie farther off than a place may.
        off = r.uniform(5, 200) if r.random() < 0.9 else r.uniform(400, 600)
        places.append(beside(a, b, ft, r.uniform(0, ft), r.choice((-1, 1)) * off))
    return hydrants[:most_hydrants], places


def beside(a: list, b: list, ft: float, along: float, off: float) -> list:
    (dx, dy) = ((b[0] - a[0]) / ft, (b[1] - a[1]) / ft)
    return [a[0] + dx * along - dy * off, a[1] + dy * along + dx * off]


if __name__ == "__main__":
    fetched(Path(sys.argv[1]))
