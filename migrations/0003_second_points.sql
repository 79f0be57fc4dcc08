-- A flow test may hold a second point: another flow at the same static, with its own residual. It is evidence as the rest of the test is: written once
-- and never edited.
ALTER TABLE flow_tests ADD COLUMN second_residual_psi REAL CHECK (second_residual_psi >= 0);
-- Null where the second flow was read by pitot: then flow_test_outlets holds the readings.
ALTER TABLE flow_tests ADD COLUMN second_metered_flow_gpm REAL
    CHECK (second_metered_flow_gpm IS NULL OR second_metered_flow_gpm > 0 AND second_residual_psi IS NOT NULL);
-- Which point an outlet flowed for. Positions run on through both.
ALTER TABLE flow_test_outlets ADD COLUMN point INTEGER NOT NULL DEFAULT 1 CHECK (point IN (1, 2));

DROP TRIGGER flow_tests_only_voided;
CREATE TRIGGER flow_tests_only_voided BEFORE UPDATE ON flow_tests
WHEN OLD.voided_at IS NOT NULL
    OR NEW.voided_at IS NULL
    OR NEW.id IS NOT OLD.id
    OR NEW.gauge_hydrant_id IS NOT OLD.gauge_hydrant_id
    OR NEW.tested_on IS NOT OLD.tested_on
    OR NEW.static_psi IS NOT OLD.static_psi
    OR NEW.residual_psi IS NOT OLD.residual_psi
    OR NEW.metered_flow_gpm IS NOT OLD.metered_flow_gpm
    OR NEW.second_residual_psi IS NOT OLD.second_residual_psi
    OR NEW.second_metered_flow_gpm IS NOT OLD.second_metered_flow_gpm
    OR NEW.notes IS NOT OLD.notes
    OR NEW.recorded_at IS NOT OLD.recorded_at
BEGIN SELECT RAISE(ABORT, 'a flow test is never edited, only voided once'); END;
