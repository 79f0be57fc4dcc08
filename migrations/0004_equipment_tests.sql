-- A department's own tests of its hose, appliances, hydrant valves and pumpers. Shipped rows may be tested too: the figure of a
-- test stands in place of the row's, and the row stays as it is.
CREATE TABLE equipment_tests (
    -- UUID version 7 in its text form, so that ids sort by time of recording.
    id TEXT NOT NULL PRIMARY KEY CHECK (length(id) = 36),
    -- Exactly one of the four says what was tested.
    hose_type_id TEXT REFERENCES hose_types (id),
    appliance_id TEXT REFERENCES appliances (id),
    hydrant_valve_id TEXT REFERENCES hydrant_valves (id),
    pumper_id TEXT REFERENCES pumpers (id),
    leg TEXT CHECK (leg IN ('through', 'to_pump', 'from_pump')),
    tested_on TEXT NOT NULL CHECK (tested_on GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]'),
    method TEXT NOT NULL,
    length_ft REAL CHECK (length_ft > 0),
    rise_ft REAL,
    meter_uncertainty_percent REAL CHECK (meter_uncertainty_percent > 0),
    notes TEXT,
    recorded_at TEXT NOT NULL,
    voided_at TEXT,
    void_reason TEXT,
    CHECK (
        (hose_type_id IS NOT NULL) + (appliance_id IS NOT NULL) + (hydrant_valve_id IS NOT NULL) + (pumper_id IS NOT NULL) = 1
    ),
    CHECK ((leg IS NULL) = (hydrant_valve_id IS NULL)),
    CHECK ((length_ft IS NULL) = (hose_type_id IS NULL)),
    CHECK ((rise_ft IS NULL) = (pumper_id IS NOT NULL)),
    CHECK ((meter_uncertainty_percent IS NULL) = (pumper_id IS NOT NULL)),
    CHECK ((voided_at IS NULL) = (void_reason IS NULL))
) STRICT;

CREATE INDEX equipment_tests_by_hose_type ON equipment_tests (hose_type_id) WHERE hose_type_id IS NOT NULL;
CREATE INDEX equipment_tests_by_appliance ON equipment_tests (appliance_id) WHERE appliance_id IS NOT NULL;
CREATE INDEX equipment_tests_by_hydrant_valve ON equipment_tests (hydrant_valve_id) WHERE hydrant_valve_id IS NOT NULL;
CREATE INDEX equipment_tests_by_pumper ON equipment_tests (pumper_id) WHERE pumper_id IS NOT NULL;

-- Written before the test itself: hence the deferred reference, and the trigger below that refuses a reading for a test already
-- recorded.
CREATE TABLE equipment_test_readings (
    equipment_test_id TEXT NOT NULL REFERENCES equipment_tests (id) DEFERRABLE INITIALLY DEFERRED,
    position INTEGER NOT NULL CHECK (position >= 0),
    flow_gpm REAL NOT NULL CHECK (flow_gpm > 0),
    -- The gauge that the water passes first: of a pumper its intake, where a vacuum is less than nothing.
    upstream_psi REAL NOT NULL,
    -- The gauge behind it: of a pumper its discharge.
    downstream_psi REAL NOT NULL CHECK (downstream_psi >= 0),
    PRIMARY KEY (equipment_test_id, position)
) STRICT;

-- A test is evidence: it is voided, once and with a reason, and otherwise never changes.
CREATE TRIGGER equipment_tests_only_voided BEFORE UPDATE ON equipment_tests
WHEN OLD.voided_at IS NOT NULL
    OR NEW.voided_at IS NULL
    OR NEW.id IS NOT OLD.id
    OR NEW.hose_type_id IS NOT OLD.hose_type_id
    OR NEW.appliance_id IS NOT OLD.appliance_id
    OR NEW.hydrant_valve_id IS NOT OLD.hydrant_valve_id
    OR NEW.pumper_id IS NOT OLD.pumper_id
    OR NEW.leg IS NOT OLD.leg
    OR NEW.tested_on IS NOT OLD.tested_on
    OR NEW.method IS NOT OLD.method
    OR NEW.length_ft IS NOT OLD.length_ft
    OR NEW.rise_ft IS NOT OLD.rise_ft
    OR NEW.meter_uncertainty_percent IS NOT OLD.meter_uncertainty_percent
    OR NEW.notes IS NOT OLD.notes
    OR NEW.recorded_at IS NOT OLD.recorded_at
BEGIN SELECT RAISE(ABORT, 'an equipment test is never edited, only voided once'); END;

CREATE TRIGGER equipment_tests_never_deleted BEFORE DELETE ON equipment_tests
BEGIN SELECT RAISE(ABORT, 'an equipment test is never deleted'); END;

CREATE TRIGGER equipment_tests_never_replaced BEFORE INSERT ON equipment_tests
WHEN EXISTS (SELECT 1 FROM equipment_tests WHERE id = NEW.id)
BEGIN SELECT RAISE(ABORT, 'an equipment test is never replaced'); END;

CREATE TRIGGER equipment_test_readings_never_edited BEFORE UPDATE ON equipment_test_readings
BEGIN SELECT RAISE(ABORT, 'an equipment test is never edited'); END;

CREATE TRIGGER equipment_test_readings_never_deleted BEFORE DELETE ON equipment_test_readings
BEGIN SELECT RAISE(ABORT, 'an equipment test is never edited'); END;

CREATE TRIGGER equipment_test_readings_never_added_later BEFORE INSERT ON equipment_test_readings
WHEN EXISTS (SELECT 1 FROM equipment_tests WHERE id = NEW.equipment_test_id)
BEGIN SELECT RAISE(ABORT, 'an equipment test is never edited'); END;
