-- What a department keeps. Units are in the column names; bounds of the quantities are in their types
-- (crates/hydraulics/src/quantity.rs), so only signs, shapes and kinds are checked here.
-- Days are `2026-05-01`; times are RFC 3339 in UTC with nine digits of the second, so that text sorts as time does.
-- Rows are retired, never deleted. `version` is raised by every write of a row.

-- 'LONG': tells this file from other programs' databases.
PRAGMA application_id = 0x4C4F4E47;

CREATE TABLE hydrants (
    id TEXT NOT NULL PRIMARY KEY CHECK (length(id) BETWEEN 1 AND 64 AND id NOT GLOB '*[^A-Za-z0-9_-]*'),
    lon_deg REAL NOT NULL CHECK (lon_deg BETWEEN -180 AND 180),
    lat_deg REAL NOT NULL CHECK (lat_deg BETWEEN -90 AND 90),
    elevation_ft REAL,
    body_loss_psi_per_100gpm2 REAL CHECK (body_loss_psi_per_100gpm2 >= 0),
    main_id TEXT,
    main_diameter_in REAL CHECK (main_diameter_in > 0),
    pressure_zone TEXT,
    owner TEXT NOT NULL CHECK (owner IN ('public', 'private')),
    potable INTEGER NOT NULL CHECK (potable IN (0, 1)),
    seasonal INTEGER NOT NULL CHECK (seasonal IN (0, 1)),
    in_service INTEGER NOT NULL CHECK (in_service IN (0, 1)),
    out_of_service_reason TEXT CHECK (in_service = 0 OR out_of_service_reason IS NULL),
    description TEXT,
    version INTEGER NOT NULL DEFAULT 1,
    updated_at TEXT NOT NULL,
    retired_at TEXT
) STRICT;

CREATE INDEX hydrants_by_main ON hydrants (main_id) WHERE main_id IS NOT NULL;

CREATE TABLE hydrant_outlets (
    hydrant_id TEXT NOT NULL REFERENCES hydrants (id),
    position INTEGER NOT NULL CHECK (position >= 0),
    kind TEXT NOT NULL CHECK (kind IN ('hose', 'pumper')),
    diameter_in REAL NOT NULL CHECK (diameter_in > 0),
    coefficient REAL NOT NULL CHECK (coefficient > 0),
    PRIMARY KEY (hydrant_id, position)
) STRICT;

CREATE TABLE flow_tests (
    -- UUID version 7 in its text form, so that ids sort by time of recording.
    id TEXT NOT NULL PRIMARY KEY CHECK (length(id) = 36),
    gauge_hydrant_id TEXT NOT NULL REFERENCES hydrants (id),
    tested_on TEXT NOT NULL CHECK (tested_on GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]'),
    static_psi REAL NOT NULL CHECK (static_psi >= 0),
    residual_psi REAL NOT NULL CHECK (residual_psi >= 0),
    -- Null where the flow was read by pitot: then flow_test_outlets holds the readings.
    metered_flow_gpm REAL CHECK (metered_flow_gpm > 0),
    notes TEXT,
    recorded_at TEXT NOT NULL,
    voided_at TEXT,
    void_reason TEXT,
    CHECK ((voided_at IS NULL) = (void_reason IS NULL))
) STRICT;

CREATE INDEX flow_tests_by_gauge ON flow_tests (gauge_hydrant_id, id);

-- The parts of a test are written before the test itself: hence the deferred references, and the triggers below that refuse a
-- part for a test already recorded.
CREATE TABLE flow_test_outlets (
    flow_test_id TEXT NOT NULL REFERENCES flow_tests (id) DEFERRABLE INITIALLY DEFERRED,
    position INTEGER NOT NULL CHECK (position >= 0),
    diameter_in REAL NOT NULL CHECK (diameter_in > 0),
    coefficient REAL NOT NULL CHECK (coefficient > 0),
    pitot_psi REAL NOT NULL CHECK (pitot_psi > 0),
    PRIMARY KEY (flow_test_id, position)
) STRICT;

CREATE TABLE flow_test_flow_hydrants (
    flow_test_id TEXT NOT NULL REFERENCES flow_tests (id) DEFERRABLE INITIALLY DEFERRED,
    position INTEGER NOT NULL CHECK (position >= 0),
    hydrant_id TEXT NOT NULL REFERENCES hydrants (id),
    PRIMARY KEY (flow_test_id, position)
) STRICT;

CREATE INDEX flow_test_flow_hydrants_by_hydrant ON flow_test_flow_hydrants (hydrant_id);

CREATE TABLE hose_types (
    id TEXT NOT NULL PRIMARY KEY CHECK (length(id) BETWEEN 1 AND 64 AND id NOT GLOB '*[^A-Za-z0-9_-]*'),
    name TEXT NOT NULL,
    diameter_in REAL NOT NULL CHECK (diameter_in > 0),
    coefficient_psi_per_100gpm2_100ft REAL NOT NULL CHECK (coefficient_psi_per_100gpm2_100ft > 0),
    coefficient_low_psi_per_100gpm2_100ft REAL,
    coefficient_high_psi_per_100gpm2_100ft REAL,
    max_operating_psi REAL CHECK (max_operating_psi >= 0),
    service_test_psi REAL CHECK (service_test_psi >= 0),
    source TEXT NOT NULL,
    origin TEXT NOT NULL CHECK (origin IN ('library', 'department')),
    version INTEGER NOT NULL DEFAULT 1,
    updated_at TEXT NOT NULL,
    retired_at TEXT,
    CHECK ((coefficient_low_psi_per_100gpm2_100ft IS NULL) = (coefficient_high_psi_per_100gpm2_100ft IS NULL)),
    CHECK (coefficient_low_psi_per_100gpm2_100ft <= coefficient_high_psi_per_100gpm2_100ft)
) STRICT;

CREATE TABLE appliances (
    id TEXT NOT NULL PRIMARY KEY CHECK (length(id) BETWEEN 1 AND 64 AND id NOT GLOB '*[^A-Za-z0-9_-]*'),
    name TEXT NOT NULL,
    -- Either a loss with the square of the flow, or a fixed loss at and above a flow.
    loss_psi_per_100gpm2 REAL CHECK (loss_psi_per_100gpm2 >= 0),
    fixed_loss_psi REAL CHECK (fixed_loss_psi >= 0),
    at_or_above_gpm REAL CHECK (at_or_above_gpm >= 0),
    -- The span of whichever of the two is set, in its unit.
    loss_low_psi_or_psi_per_100gpm2 REAL,
    loss_high_psi_or_psi_per_100gpm2 REAL,
    max_operating_psi REAL CHECK (max_operating_psi >= 0),
    source TEXT NOT NULL,
    origin TEXT NOT NULL CHECK (origin IN ('library', 'department')),
    version INTEGER NOT NULL DEFAULT 1,
    updated_at TEXT NOT NULL,
    retired_at TEXT,
    CHECK ((loss_psi_per_100gpm2 IS NULL) <> (fixed_loss_psi IS NULL)),
    CHECK ((fixed_loss_psi IS NULL) = (at_or_above_gpm IS NULL)),
    CHECK ((loss_low_psi_or_psi_per_100gpm2 IS NULL) = (loss_high_psi_or_psi_per_100gpm2 IS NULL)),
    CHECK (loss_low_psi_or_psi_per_100gpm2 <= loss_high_psi_or_psi_per_100gpm2)
) STRICT;

CREATE TABLE hydrant_valves (
    id TEXT NOT NULL PRIMARY KEY CHECK (length(id) BETWEEN 1 AND 64 AND id NOT GLOB '*[^A-Za-z0-9_-]*'),
    name TEXT NOT NULL,
    through_psi_per_100gpm2 REAL NOT NULL CHECK (through_psi_per_100gpm2 >= 0),
    through_low_psi_per_100gpm2 REAL,
    through_high_psi_per_100gpm2 REAL,
    to_pump_psi_per_100gpm2 REAL NOT NULL CHECK (to_pump_psi_per_100gpm2 >= 0),
    from_pump_psi_per_100gpm2 REAL NOT NULL CHECK (from_pump_psi_per_100gpm2 >= 0),
    to_pump_hose_type_id TEXT REFERENCES hose_types (id),
    to_pump_hose_ft REAL CHECK (to_pump_hose_ft > 0),
    from_pump_hose_type_id TEXT REFERENCES hose_types (id),
    from_pump_hose_ft REAL CHECK (from_pump_hose_ft > 0),
    source TEXT NOT NULL,
    origin TEXT NOT NULL CHECK (origin IN ('library', 'department')),
    version INTEGER NOT NULL DEFAULT 1,
    updated_at TEXT NOT NULL,
    retired_at TEXT,
    CHECK ((through_low_psi_per_100gpm2 IS NULL) = (through_high_psi_per_100gpm2 IS NULL)),
    CHECK (through_low_psi_per_100gpm2 <= through_high_psi_per_100gpm2),
    CHECK ((to_pump_hose_type_id IS NULL) = (to_pump_hose_ft IS NULL)),
    CHECK ((from_pump_hose_type_id IS NULL) = (from_pump_hose_ft IS NULL))
) STRICT;

CREATE TABLE pumpers (
    id TEXT NOT NULL PRIMARY KEY CHECK (length(id) BETWEEN 1 AND 64 AND id NOT GLOB '*[^A-Za-z0-9_-]*'),
    name TEXT NOT NULL,
    rated_flow_gpm REAL NOT NULL CHECK (rated_flow_gpm > 0),
    intake_floor_psi REAL CHECK (intake_floor_psi >= 0),
    max_discharge_psi REAL CHECK (max_discharge_psi >= 0),
    tank_gal REAL CHECK (tank_gal >= 0),
    version INTEGER NOT NULL DEFAULT 1,
    updated_at TEXT NOT NULL,
    retired_at TEXT
) STRICT;

CREATE TABLE pump_points (
    pumper_id TEXT NOT NULL REFERENCES pumpers (id),
    position INTEGER NOT NULL CHECK (position >= 0),
    flow_gpm REAL NOT NULL CHECK (flow_gpm > 0),
    net_psi REAL NOT NULL CHECK (net_psi >= 0),
    PRIMARY KEY (pumper_id, position)
) STRICT;

CREATE TABLE pumper_hose (
    pumper_id TEXT NOT NULL REFERENCES pumpers (id),
    position INTEGER NOT NULL CHECK (position >= 0),
    hose_type_id TEXT NOT NULL REFERENCES hose_types (id),
    length_ft REAL NOT NULL CHECK (length_ft > 0),
    PRIMARY KEY (pumper_id, position)
) STRICT;

CREATE TABLE lay_profiles (
    id TEXT NOT NULL PRIMARY KEY CHECK (length(id) BETWEEN 1 AND 64 AND id NOT GLOB '*[^A-Za-z0-9_-]*'),
    name TEXT NOT NULL,
    hydrant_valve_id TEXT REFERENCES hydrant_valves (id),
    hose_type_id TEXT NOT NULL REFERENCES hose_types (id),
    lines INTEGER NOT NULL CHECK (lines BETWEEN 1 AND 8),
    carried_ft REAL NOT NULL CHECK (carried_ft > 0),
    scene_floor_psi REAL CHECK (scene_floor_psi >= 0),
    main_floor_psi REAL CHECK (main_floor_psi >= 0),
    version INTEGER NOT NULL DEFAULT 1,
    updated_at TEXT NOT NULL,
    retired_at TEXT
) STRICT;

CREATE TABLE lay_profile_appliances (
    lay_profile_id TEXT NOT NULL REFERENCES lay_profiles (id),
    position INTEGER NOT NULL CHECK (position >= 0),
    appliance_id TEXT NOT NULL REFERENCES appliances (id),
    PRIMARY KEY (lay_profile_id, position)
) STRICT;

-- What stands under an id, whatever its kind.
CREATE VIEW record_standing (kind, id, library, live) AS
SELECT 'hydrant', id, 0, retired_at IS NULL FROM hydrants
UNION ALL SELECT 'hose_type', id, origin = 'library', retired_at IS NULL FROM hose_types
UNION ALL SELECT 'appliance', id, origin = 'library', retired_at IS NULL FROM appliances
UNION ALL SELECT 'hydrant_valve', id, origin = 'library', retired_at IS NULL FROM hydrant_valves
UNION ALL SELECT 'pumper', id, 0, retired_at IS NULL FROM pumpers
UNION ALL SELECT 'lay_profile', id, 0, retired_at IS NULL FROM lay_profiles;

-- Which equipment the live records refer to, and by what.
CREATE VIEW equipment_uses (kind, id, used_by) AS
SELECT 'hose_type', hose_type_id, 'lay profile ' || id FROM lay_profiles WHERE retired_at IS NULL
UNION SELECT 'hose_type', h.hose_type_id, 'pumper ' || p.id
FROM pumper_hose h JOIN pumpers p ON p.id = h.pumper_id WHERE p.retired_at IS NULL
UNION SELECT 'hose_type', to_pump_hose_type_id, 'hydrant valve ' || id FROM hydrant_valves WHERE retired_at IS NULL
UNION SELECT 'hose_type', from_pump_hose_type_id, 'hydrant valve ' || id FROM hydrant_valves WHERE retired_at IS NULL
UNION SELECT 'hydrant_valve', hydrant_valve_id, 'lay profile ' || id FROM lay_profiles WHERE retired_at IS NULL
UNION SELECT 'appliance', a.appliance_id, 'lay profile ' || p.id
FROM lay_profile_appliances a JOIN lay_profiles p ON p.id = a.lay_profile_id WHERE p.retired_at IS NULL;

-- A flow test is evidence: it is voided, once and with a reason, and otherwise never changes. The triggers on INSERT are there
-- because INSERT OR REPLACE deletes without firing DELETE triggers.
CREATE TRIGGER flow_tests_only_voided BEFORE UPDATE ON flow_tests
WHEN OLD.voided_at IS NOT NULL
    OR NEW.voided_at IS NULL
    OR NEW.id IS NOT OLD.id
    OR NEW.gauge_hydrant_id IS NOT OLD.gauge_hydrant_id
    OR NEW.tested_on IS NOT OLD.tested_on
    OR NEW.static_psi IS NOT OLD.static_psi
    OR NEW.residual_psi IS NOT OLD.residual_psi
    OR NEW.metered_flow_gpm IS NOT OLD.metered_flow_gpm
    OR NEW.notes IS NOT OLD.notes
    OR NEW.recorded_at IS NOT OLD.recorded_at
BEGIN SELECT RAISE(ABORT, 'a flow test is never edited, only voided once'); END;

CREATE TRIGGER flow_tests_never_deleted BEFORE DELETE ON flow_tests
BEGIN SELECT RAISE(ABORT, 'a flow test is never deleted'); END;

CREATE TRIGGER flow_tests_never_replaced BEFORE INSERT ON flow_tests
WHEN EXISTS (SELECT 1 FROM flow_tests WHERE id = NEW.id)
BEGIN SELECT RAISE(ABORT, 'a flow test is never replaced'); END;

CREATE TRIGGER flow_test_outlets_never_edited BEFORE UPDATE ON flow_test_outlets
BEGIN SELECT RAISE(ABORT, 'a flow test is never edited'); END;

CREATE TRIGGER flow_test_outlets_never_deleted BEFORE DELETE ON flow_test_outlets
BEGIN SELECT RAISE(ABORT, 'a flow test is never edited'); END;

CREATE TRIGGER flow_test_outlets_never_added_later BEFORE INSERT ON flow_test_outlets
WHEN EXISTS (SELECT 1 FROM flow_tests WHERE id = NEW.flow_test_id)
BEGIN SELECT RAISE(ABORT, 'a flow test is never edited'); END;

CREATE TRIGGER flow_test_flow_hydrants_never_edited BEFORE UPDATE ON flow_test_flow_hydrants
BEGIN SELECT RAISE(ABORT, 'a flow test is never edited'); END;

CREATE TRIGGER flow_test_flow_hydrants_never_deleted BEFORE DELETE ON flow_test_flow_hydrants
BEGIN SELECT RAISE(ABORT, 'a flow test is never edited'); END;

CREATE TRIGGER flow_test_flow_hydrants_never_added_later BEFORE INSERT ON flow_test_flow_hydrants
WHEN EXISTS (SELECT 1 FROM flow_tests WHERE id = NEW.flow_test_id)
BEGIN SELECT RAISE(ABORT, 'a flow test is never edited'); END;

-- What the program ships is the same in every department; their own figures go under their own ids.
CREATE TRIGGER hose_types_library_kept BEFORE UPDATE ON hose_types WHEN OLD.origin = 'library'
BEGIN SELECT RAISE(ABORT, 'library rows are read-only'); END;

CREATE TRIGGER hose_types_library_not_deleted BEFORE DELETE ON hose_types WHEN OLD.origin = 'library'
BEGIN SELECT RAISE(ABORT, 'library rows are read-only'); END;

CREATE TRIGGER hose_types_library_not_replaced BEFORE INSERT ON hose_types
WHEN EXISTS (SELECT 1 FROM hose_types WHERE id = NEW.id AND origin = 'library')
BEGIN SELECT RAISE(ABORT, 'library rows are read-only'); END;

CREATE TRIGGER appliances_library_kept BEFORE UPDATE ON appliances WHEN OLD.origin = 'library'
BEGIN SELECT RAISE(ABORT, 'library rows are read-only'); END;

CREATE TRIGGER appliances_library_not_deleted BEFORE DELETE ON appliances WHEN OLD.origin = 'library'
BEGIN SELECT RAISE(ABORT, 'library rows are read-only'); END;

CREATE TRIGGER appliances_library_not_replaced BEFORE INSERT ON appliances
WHEN EXISTS (SELECT 1 FROM appliances WHERE id = NEW.id AND origin = 'library')
BEGIN SELECT RAISE(ABORT, 'library rows are read-only'); END;

CREATE TRIGGER hydrant_valves_library_kept BEFORE UPDATE ON hydrant_valves WHEN OLD.origin = 'library'
BEGIN SELECT RAISE(ABORT, 'library rows are read-only'); END;

CREATE TRIGGER hydrant_valves_library_not_deleted BEFORE DELETE ON hydrant_valves WHEN OLD.origin = 'library'
BEGIN SELECT RAISE(ABORT, 'library rows are read-only'); END;

CREATE TRIGGER hydrant_valves_library_not_replaced BEFORE INSERT ON hydrant_valves
WHEN EXISTS (SELECT 1 FROM hydrant_valves WHERE id = NEW.id AND origin = 'library')
BEGIN SELECT RAISE(ABORT, 'library rows are read-only'); END;
