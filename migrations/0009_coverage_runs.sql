-- Coverage runs: what was asked, what it was worked from, how it ended, and what came out for each demand point. Worked out of the records, and so no
-- evidence: a run may be deleted.

CREATE TABLE coverage_runs (
    id TEXT NOT NULL PRIMARY KEY,
    requested_at TEXT NOT NULL,
    author TEXT NOT NULL,
    -- What was asked, with every default filled in.
    settings TEXT NOT NULL CHECK (json_valid(settings)),
    state TEXT NOT NULL CHECK (state IN ('queued', 'running', 'done', 'cancelled', 'failed')),
    started_at TEXT,
    ended_at TEXT,
    failure TEXT,
    -- A digest of each kind of data that it was worked from.
    fingerprint TEXT CHECK (json_valid(fingerprint)),
    summary TEXT CHECK (json_valid(summary)),
    CHECK ((state IN ('done', 'cancelled', 'failed')) = (ended_at IS NOT NULL)),
    CHECK ((state = 'failed') = (failure IS NOT NULL)),
    CHECK ((state = 'done') = (summary IS NOT NULL))
) STRICT;

CREATE TABLE coverage_outcomes (
    run_id TEXT NOT NULL REFERENCES coverage_runs (id) ON DELETE CASCADE,
    demand_point_id TEXT NOT NULL,
    name TEXT,
    lon_deg REAL NOT NULL CHECK (lon_deg BETWEEN -180 AND 180),
    lat_deg REAL NOT NULL CHECK (lat_deg BETWEEN -90 AND 90),
    -- The districts it lies in, as a list of ids.
    district_ids TEXT NOT NULL CHECK (json_valid(district_ids)),
    need_gpm REAL,
    cause TEXT NOT NULL,
    shortfall_gpm REAL,
    ground_unknown INTEGER NOT NULL CHECK (ground_unknown IN (0, 1)),
    -- What arrives at best: each a list of hydrants, their lays in feet, the flow and its low end; null where nothing does.
    alone TEXT CHECK (json_valid(alone)),
    boosted TEXT CHECK (json_valid(boosted)),
    combined TEXT CHECK (json_valid(combined)),
    -- The hydrant that the cause is about.
    named TEXT CHECK (json_valid(named)),
    PRIMARY KEY (run_id, demand_point_id)
) STRICT, WITHOUT ROWID;
