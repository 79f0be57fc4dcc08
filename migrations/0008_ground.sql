-- The ground that coverage is reckoned over: what asks for water, along what hose is laid, by which areas is counted.

CREATE TABLE demand_points (
    id TEXT NOT NULL PRIMARY KEY CHECK (length(id) BETWEEN 1 AND 64 AND id NOT GLOB '*[^A-Za-z0-9_-]*'),
    lon_deg REAL NOT NULL CHECK (lon_deg BETWEEN -180 AND 180),
    lat_deg REAL NOT NULL CHECK (lat_deg BETWEEN -90 AND 90),
    elevation_ft REAL,
    name TEXT,
    address TEXT,
    -- Null where nobody knows what it asks for. A number is kept only where it was said; where a method gives it, the method's inputs are.
    need_method TEXT CHECK (need_method IN ('given', 'iso_dwelling', 'ifc_b105')),
    need_flow_gpm REAL CHECK (need_flow_gpm > 0),
    need_source TEXT,
    need_edition TEXT,
    separation_ft REAL CHECK (separation_ft >= 0),
    building_type TEXT,
    area_sq_ft REAL CHECK (area_sq_ft > 0),
    dwelling INTEGER CHECK (dwelling IN (0, 1)),
    sprinklers TEXT,
    version INTEGER NOT NULL DEFAULT 1,
    updated_at TEXT NOT NULL,
    retired_at TEXT,
    CHECK ((need_method IS 'given') = (need_flow_gpm IS NOT NULL)),
    CHECK ((need_method IS 'iso_dwelling') = (separation_ft IS NOT NULL)),
    CHECK ((need_method IS 'ifc_b105') = (area_sq_ft IS NOT NULL))
) STRICT;

CREATE TABLE districts (
    id TEXT NOT NULL PRIMARY KEY CHECK (length(id) BETWEEN 1 AND 64 AND id NOT GLOB '*[^A-Za-z0-9_-]*'),
    name TEXT,
    -- How many polygons; for each how many rings; for each how many positions: four bytes each. Then longitude and latitude of each position, eight
    -- bytes each. The least byte comes first.
    shape BLOB NOT NULL,
    version INTEGER NOT NULL DEFAULT 1,
    updated_at TEXT NOT NULL,
    retired_at TEXT
) STRICT;

-- A network means something only as a whole: these rows are not retired one by one, but replaced all together, which the audit tells of once.
CREATE TABLE streets (
    id TEXT NOT NULL PRIMARY KEY CHECK (length(id) > 0),
    name TEXT,
    -- Longitude and latitude of each place, eight bytes each, the least byte first.
    line BLOB NOT NULL CHECK (length(line) >= 32 AND length(line) % 16 = 0),
    from_level INTEGER NOT NULL,
    to_level INTEGER NOT NULL,
    barrier TEXT CHECK (barrier IN ('railway', 'limited_access', 'median', 'wall'))
) STRICT, WITHOUT ROWID;

-- What the streets are together. No row before the first import.
CREATE TABLE street_network (
    only INTEGER NOT NULL PRIMARY KEY CHECK (only = 1),
    imported_at TEXT NOT NULL,
    -- Of the file they came in.
    sha256 BLOB NOT NULL CHECK (length(sha256) = 32),
    streets INTEGER NOT NULL CHECK (streets > 0),
    places INTEGER NOT NULL CHECK (places > 0),
    west_deg REAL NOT NULL,
    south_deg REAL NOT NULL,
    east_deg REAL NOT NULL,
    north_deg REAL NOT NULL,
    railways INTEGER NOT NULL,
    limited_access INTEGER NOT NULL,
    medians INTEGER NOT NULL,
    walls INTEGER NOT NULL,
    off_ground INTEGER NOT NULL
) STRICT;

-- Heights of the ground for what has none of its own. No row before the first import.
CREATE TABLE elevation_grid (
    only INTEGER NOT NULL PRIMARY KEY CHECK (only = 1),
    imported_at TEXT NOT NULL,
    sha256 BLOB NOT NULL CHECK (length(sha256) = 32),
    west_deg REAL NOT NULL,
    south_deg REAL NOT NULL,
    step_deg REAL NOT NULL CHECK (step_deg > 0),
    columns INTEGER NOT NULL CHECK (columns >= 2),
    row_count INTEGER NOT NULL CHECK (row_count >= 2),
    known INTEGER NOT NULL,
    -- Feet, four bytes each, the least byte first, from west to east, the southernmost row first. One far under any ground stands where none is known.
    heights BLOB NOT NULL CHECK (length(heights) = 4 * columns * row_count)
) STRICT;

DROP VIEW record_standing;
CREATE VIEW record_standing (kind, id, library, live, version) AS
SELECT 'hydrant', id, 0, retired_at IS NULL, version FROM hydrants
UNION ALL SELECT 'hose_type', id, origin = 'library', retired_at IS NULL, version FROM hose_types
UNION ALL SELECT 'appliance', id, origin = 'library', retired_at IS NULL, version FROM appliances
UNION ALL SELECT 'hydrant_valve', id, origin = 'library', retired_at IS NULL, version FROM hydrant_valves
UNION ALL SELECT 'pumper', id, 0, retired_at IS NULL, version FROM pumpers
UNION ALL SELECT 'lay_profile', id, 0, retired_at IS NULL, version FROM lay_profiles
UNION ALL SELECT 'demand_point', id, 0, retired_at IS NULL, version FROM demand_points
UNION ALL SELECT 'district', id, 0, retired_at IS NULL, version FROM districts;
