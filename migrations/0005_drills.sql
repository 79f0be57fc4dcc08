-- Drills: lays that were really laid, with what the gauges read beside what was predicted. Never edited, voided once with a reason.
CREATE TABLE drills (
    -- UUID version 7 in its text form, so that ids sort by time of recording.
    id TEXT NOT NULL PRIMARY KEY CHECK (length(id) = 36),
    drilled_on TEXT NOT NULL CHECK (drilled_on GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]'),
    -- The lay as it was asked about, so that it can be worked again.
    lay TEXT NOT NULL CHECK (json_valid(lay)),
    flow_gpm REAL NOT NULL CHECK (flow_gpm > 0),
    flow_uncertainty_percent REAL NOT NULL CHECK (flow_uncertainty_percent > 0),
    pumped INTEGER NOT NULL CHECK (pumped IN (0, 1)),
    -- What the gauges say of it together, so that an answer reads one row a drill: null where nothing read could have been missed.
    readings INTEGER NOT NULL CHECK (readings > 0),
    miss_psi REAL,
    predicted_loss_psi REAL,
    notes TEXT,
    recorded_at TEXT NOT NULL,
    voided_at TEXT,
    void_reason TEXT,
    CHECK ((miss_psi IS NULL) = (predicted_loss_psi IS NULL)),
    CHECK ((voided_at IS NULL) = (void_reason IS NULL))
) STRICT;

-- The parts of a drill are written before the drill itself, as those of a flow test are.
CREATE TABLE drill_gauges (
    drill_id TEXT NOT NULL REFERENCES drills (id) DEFERRABLE INITIALLY DEFERRED,
    position INTEGER NOT NULL CHECK (position >= 0),
    station TEXT NOT NULL,
    elevation_ft REAL NOT NULL,
    predicted_psi REAL NOT NULL,
    read_psi REAL CHECK (read_psi >= 0),
    PRIMARY KEY (drill_id, position),
    UNIQUE (drill_id, station)
) STRICT;

CREATE TABLE drill_uses (
    drill_id TEXT NOT NULL REFERENCES drills (id) DEFERRABLE INITIALLY DEFERRED,
    kind TEXT NOT NULL CHECK (kind IN ('hydrant', 'hose_type', 'appliance', 'hydrant_valve', 'pumper')),
    asset_id TEXT NOT NULL,
    PRIMARY KEY (drill_id, kind, asset_id)
) STRICT;

CREATE INDEX drill_uses_by_asset ON drill_uses (kind, asset_id, drill_id);

-- When the figures of equipment changed, by being written or by a test of it that stands: what was predicted before that was predicted from other figures.
CREATE VIEW equipment_changes (kind, id, updated_at) AS
SELECT 'hose_type', id, updated_at FROM hose_types
UNION ALL SELECT 'appliance', id, updated_at FROM appliances
UNION ALL SELECT 'hydrant_valve', id, updated_at FROM hydrant_valves
UNION ALL SELECT 'hose_type', hose_type_id, recorded_at FROM equipment_tests
WHERE hose_type_id IS NOT NULL AND voided_at IS NULL
UNION ALL SELECT 'appliance', appliance_id, recorded_at FROM equipment_tests
WHERE appliance_id IS NOT NULL AND voided_at IS NULL
UNION ALL SELECT 'hydrant_valve', hydrant_valve_id, recorded_at FROM equipment_tests
WHERE hydrant_valve_id IS NOT NULL AND voided_at IS NULL;

CREATE TRIGGER drills_only_voided BEFORE UPDATE ON drills
WHEN OLD.voided_at IS NOT NULL
    OR NEW.voided_at IS NULL
    OR NEW.id IS NOT OLD.id
    OR NEW.drilled_on IS NOT OLD.drilled_on
    OR NEW.lay IS NOT OLD.lay
    OR NEW.flow_gpm IS NOT OLD.flow_gpm
    OR NEW.flow_uncertainty_percent IS NOT OLD.flow_uncertainty_percent
    OR NEW.pumped IS NOT OLD.pumped
    OR NEW.readings IS NOT OLD.readings
    OR NEW.miss_psi IS NOT OLD.miss_psi
    OR NEW.predicted_loss_psi IS NOT OLD.predicted_loss_psi
    OR NEW.notes IS NOT OLD.notes
    OR NEW.recorded_at IS NOT OLD.recorded_at
BEGIN SELECT RAISE(ABORT, 'a drill is never edited, only voided once'); END;

CREATE TRIGGER drills_never_deleted BEFORE DELETE ON drills
BEGIN SELECT RAISE(ABORT, 'a drill is never deleted'); END;

CREATE TRIGGER drills_never_replaced BEFORE INSERT ON drills
WHEN EXISTS (SELECT 1 FROM drills WHERE id = NEW.id)
BEGIN SELECT RAISE(ABORT, 'a drill is never replaced'); END;

CREATE TRIGGER drill_gauges_never_edited BEFORE UPDATE ON drill_gauges
BEGIN SELECT RAISE(ABORT, 'a drill is never edited'); END;

CREATE TRIGGER drill_gauges_never_deleted BEFORE DELETE ON drill_gauges
BEGIN SELECT RAISE(ABORT, 'a drill is never edited'); END;

CREATE TRIGGER drill_gauges_never_added_later BEFORE INSERT ON drill_gauges
WHEN EXISTS (SELECT 1 FROM drills WHERE id = NEW.drill_id)
BEGIN SELECT RAISE(ABORT, 'a drill is never edited'); END;

CREATE TRIGGER drill_uses_never_edited BEFORE UPDATE ON drill_uses
BEGIN SELECT RAISE(ABORT, 'a drill is never edited'); END;

CREATE TRIGGER drill_uses_never_deleted BEFORE DELETE ON drill_uses
BEGIN SELECT RAISE(ABORT, 'a drill is never edited'); END;

CREATE TRIGGER drill_uses_never_added_later BEFORE INSERT ON drill_uses
WHEN EXISTS (SELECT 1 FROM drills WHERE id = NEW.drill_id)
BEGIN SELECT RAISE(ABORT, 'a drill is never edited'); END;
