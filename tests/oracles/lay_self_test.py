"""Worked examples and definitions the second solver must meet by itself; run by `lay_oracle.py --self-test`."""

from math import inf, sqrt

from lay_model import Branch, Group, Line, Main, ceiling, net_pressure, section, solve, through, with_boost

FLOOR = 20.0


def hose(coefficient: float, length: float, **marks) -> dict:
    return {"kind": "hose", "loss_coefficient": coefficient, "length_ft": length, "lines": 1, **marks}


def valve(through_k: float, to_pump: float, from_pump: float) -> dict:
    return {
        "kind": "hydrant_valve",
        "through_coefficient": through_k,
        "to_pump_coefficient": to_pump,
        "from_pump_coefficient": from_pump,
    }


def rise(feet: float) -> dict:
    return {"kind": "rise", "feet": feet}


def lay(static, residual, flow, parts, body=None, **more) -> dict:
    source = {"static_psi": static, "residual_psi": residual, "flow_gpm": flow}
    if body is not None:
        source["body_loss_coefficient"] = body
    return {"source": source, "parts": parts, **more}


def boosted_limits(request: dict) -> dict:
    return dict(Line(Main(request["source"]), with_boost(request["parts"], request["boost"]), FLOOR, FLOOR).limits())


class Checks:
    def __init__(self):
        self.failed = 0

    def near(self, what: str, got, want: float, tolerance: float):
        ok = got is not None and abs(got - want) <= tolerance
        self.failed += not ok
        print(f"{'ok  ' if ok else 'FAIL'} {what}: {got} (expected {want} within {tolerance:g})")

    def equal(self, what: str, got, want):
        self.failed += got != want
        print(f"{'ok  ' if got == want else 'FAIL'} {what}: {got} (expected {want})")


def worked(c: Checks):
    long_hose, short_hose, four_way = hose(0.08, 1000), hose(0.08, 100), valve(0.22, 0.10, 0.05)
    c.near("1000 ft of 5-inch at 600 gpm, psi", section([long_hose]).loss(600), 28.8, 1e-9)
    plain = solve(lay(60, 40, 600, [long_hose]))
    c.near("that hose alone from 60/40 at 600", plain.alone.flow, 542, 0.5)
    c.equal("no pumper, no boosted answer", plain.boosted, None)

    weak_lay = solve(lay(60, 40, 600, [four_way, long_hose], body=0.05, boost={"rated_flow_gpm": 1500}))
    c.near("with body and valve, alone", weak_lay.alone.flow, 494, 0.5)
    c.near("with body and valve, boosted", weak_lay.boosted.flow, 764, 0.5)
    c.equal("boosted limit", weak_lay.boosted.limited_by, "pumper_intake")
    c.equal("diagnosis alone", weak_lay.codes_alone, ["friction"])

    weak_main = solve(lay(60, 30, 400, [four_way, short_hose], body=0.05, boost={"rated_flow_gpm": 1500}))
    c.near("weak main, alone", weak_main.alone.flow, 426, 0.5)
    c.near("weak main, boosted", weak_main.boosted.flow, 448, 0.5)
    c.near("weak main, the main's own floor", weak_main.main_limit, 467, 0.5)
    c.equal("weak main, diagnosis alone", weak_main.codes_alone, ["water"])


def reference_cases(c: Checks):
    """Derived cases worked with 1.85 for 1/0.54, hence the wider tolerance."""
    alone = (
        ("IN01", lay(74, 46, 2980, [valve(0.23, 0, 0), hose(0.08, 500)]), 899.278, 4248.5776),
        ("IN02", lay(74, 46, 2980, [hose(0.08, 500)]), 1112.1876, 4248.5776),
        ("IN03", lay(60, 45, 1000, [valve(0.23, 0, 0), hose(0.2, 800), rise(10)]), 422.1806, 1698.334),
    )
    for name, request, flow, main_flow in alone:
        solved = solve(request)
        c.near(f"{name} flow", solved.alone.flow, flow, 0.002 * flow)
        c.near(f"{name} main", solved.main_limit, main_flow, 0.002 * main_flow)
        c.equal(f"{name} limit", solved.alone.limited_by, "scene_intake")
    boosted = (
        ("IN05", (74, 46, 2980), 0.08, 500, 0, 1500, "pumper_capacity", 1500.0, (4248.6, 2562.3, 1982.1, 1500.0)),
        ("IN07", (60, 45, 600), 0.08, 800, 10, 1500, "pumper_intake", 954.9734, (1019.0, 955.0, 1560.2, 1364.4)),
        ("IN08", (90, 80, 2000), 0.2, 1200, 40, 1250, "hose_rating", 781.0779, (5719.8, 3087.7, 781.1, 978.0)),
    )
    for name, source, coefficient, length, feet, rated, limit, flow, printed in boosted:
        parts = [valve(0.23, 0.05, 0.02), hose(coefficient, length, max_operating_psi=185), rise(feet)]
        request = lay(*source, parts, boost={"rated_flow_gpm": rated})
        solved, limits = solve(request), boosted_limits(request)
        c.near(f"{name} flow", solved.boosted.flow, flow, 0.005 * flow)
        c.equal(f"{name} limit", solved.boosted.limited_by, limit)
        for key, want in zip(("main_floor", "pumper_intake", "hose_rating", "pumper_capacity"), printed):
            c.near(f"{name} {key}", limits[key], want, 0.005 * want)


def conventions(c: Checks):
    flat = solve(lay(50, 50, 700, [hose(0.05, 25)]))
    c.equal("no drop: limited to the tested flow", (flat.alone.flow, flat.alone.limited_by), (700, "main_floor"))
    c.equal("static under the floor", solve(lay(18, 10, 500, [hose(0.08, 100)])).alone.limited_by, "main_floor")
    step = {"kind": "appliance", "fixed_loss_psi": 25.0, "at_or_above_gpm": 350.0}
    c.near("a limit at a step", solve(lay(60, 40, 600, [hose(0.2, 500), step])).alone.flow, 350, 1e-9)
    mild = {**step, "fixed_loss_psi": 20.0}
    c.equal("a step taken in stride", solve(lay(60, 40, 600, [hose(0.2, 500), mild])).alone.flow > 353, True)
    first, second = hose(0.1, 100, max_operating_psi=185), hose(0.1, 100, service_test_psi=200)
    parts = [first, rise(-50), rise(80), second, rise(-10)]
    # The first hose may reach the low ground at -50 ft; the second starts from there too.
    c.near("ceiling over a dip", ceiling(parts, inf), 180 - 0.434 * 50, 1e-9)
    c.near("ceiling after a climb", ceiling(parts[2:], inf), 180, 1e-9)
    c.near("net pressure between points", net_pressure(1000, 600), 225, 1e-9)
    solved = solve(lay(60, 30, 400, [{"kind": "pumper", "rated_flow_gpm": 300.0}, hose(0.08, 50)]))
    c.equal("an explicit pumper may do harm", solved.boosted.flow < solved.alone.flow, True)
    fallen = solve(lay(60, 30, 400, [valve(0, 0, 0), hose(0.08, 50)], boost={"rated_flow_gpm": 300.0}))
    c.equal("a boost never does", (fallen.boosted.flow, fallen.boosted.limited_by), (fallen.alone.flow, "scene_intake"))


def groups(c: Checks):
    unequal = Group([Branch(0.8, []), Branch(2.0, []), Branch(0.5, [])])
    closed = (6.5 / sum(1 / sqrt(k) for k in (0.8, 2.0, 0.5))) ** 2
    c.near("unequal lines, closed form", unequal.loss(650), closed, 1e-10)
    twins = Group([Branch(1.0, [(300, 10.0)])] * 2)
    c.near("twins just under their step", twins.loss(600 * (1 - 1e-12)), 9, 1e-6)
    c.near("twins at their step", twins.loss(600), 19, 1e-9)
    mixed = Group([Branch(1.0, [(300, 10.0)]), Branch(1.0, [])])
    # Between 9 and 19 psi the first branch waits at its step while the other takes the rest.
    c.near("a branch waiting at its step", mixed.loss(300 + 100 * sqrt(15)), 15, 1e-9)


def holds(line: Line, q: float) -> bool:
    """Deliverable by definition: one march down the line, no limit taken by itself and no root sought."""
    if line.main.pressure(q) < line.main_floor or (line.main.drop == 0 and q > line.main.tested):
        return False
    p = line.main.pressure(q) - line.sections[0].loss(q)
    if p < line.floor(0):
        return False
    for i, pumper in enumerate(line.pumpers):
        rated = pumper["rated_flow_gpm"]
        p = min(p + net_pressure(rated, q), line.ceilings[i]) - line.sections[i + 1].loss(q)
        if q > rated or p < line.floor(i + 1):
            return False
    return True


def marches(c: Checks, generator, count: int = 400):
    """The least of the separate limits must be where the march as a whole first fails, found by plain halving."""
    worst = 0.0
    for _ in range(count):
        request, _ = generator.problem()
        parts = with_boost(request["parts"], request["boost"]) if "boost" in request else through(request["parts"])
        floors = request.get("main_floor_psi", FLOOR), request.get("scene_floor_psi", FLOOR)
        line = Line(Main(request["source"]), parts, *floors)
        lo, hi = 0.0, 50000.0
        for _ in range(70):
            middle = (lo + hi) / 2
            lo, hi = (middle, hi) if holds(line, middle) else (lo, middle)
        worst = max(worst, abs(line.answer().flow - lo) / max(lo, 1.0))
    c.near(f"least limit against a march down the line, {count} lays, worst relative error", worst, 0, 1e-8)


def run(generator) -> int:
    c = Checks()
    worked(c)
    reference_cases(c)
    conventions(c)
    groups(c)
    marches(c, generator)
    print(f"{c.failed} checks failed" if c.failed else "all checks passed")
    return 1 if c.failed else 0
