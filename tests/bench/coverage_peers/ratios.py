"""Reads what the bench wrote, prints the ratios, and fails where one is not met."""
import glob
import re
import sys

work = sys.argv[1]
PLACES = {"city": 125_000, "metro": 1_000_000}


def ours(size, kind):
    with open(f"{work}/ours-{size}-{kind}") as lines:
        return {name: float(value) for name, value in (line.split() for line in lines if line.count(" ") == 1)}


def total(path):
    with open(path) as lines:
        return float(re.search(r"TOTAL ([\d.]+)", lines.read()).group(1))


peer = min(total(path) for path in glob.glob(f"{work}/peer-*"))
failed = False


def check(what, value, good, bound):
    global failed
    failed |= not good
    print(f"{what}: {value:.2f} ({bound}){'' if good else ' FAILED'}")


print(f"faster peer: {peer:.2f} s")
for kind, least in (("alone", 50), ("causes", 25)):
    city, metro = ours("city", kind), ours("metro", kind)
    ratio = peer / city["total"]
    check(f"city, {kind}: {city['total']:.3f} s, times as fast", ratio, ratio >= least, f"at least {least}")
    grows = metro["total"] / PLACES["metro"] / (city["total"] / PLACES["city"])
    check(f"metro, {kind}: {metro['total']:.3f} s, time a place over a city's", grows, grows <= 1.5, "at most 1.5")
    check(f"metro, {kind}: MB held", metro["peak_mb"], metro["peak_mb"] < 1024, "under 1024")
sys.exit(failed)
