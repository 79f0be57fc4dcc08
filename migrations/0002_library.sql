-- The shipped library: handbook figures to begin with, until a department has tested its own. Each names its source by its key
-- in the bibliography (crates/hydraulics/src/bibliography.rs); `memory` marks a figure no page was read for. The span is what
-- other sources or measured samples give; none where no second value was met. No pressure is marked: a rating is read off the
-- hose in hand, never out of a table.

INSERT INTO hose_types (
    id, name, diameter_in, coefficient_psi_per_100gpm2_100ft, coefficient_low_psi_per_100gpm2_100ft,
    coefficient_high_psi_per_100gpm2_100ft, source, origin, updated_at
) VALUES
    ('std-0-75in', '3/4 in booster hose', 0.75, 1100, NULL, NULL, 'memory', 'library', '2026-11-25T00:00:00.000000000Z'),
    ('std-1in', '1 in booster hose', 1, 150, NULL, NULL, 'rohnert-park', 'library', '2026-11-25T00:00:00.000000000Z'),
    ('std-1-25in', '1-1/4 in booster hose', 1.25, 80, NULL, NULL, 'memory', 'library', '2026-11-25T00:00:00.000000000Z'),
    ('std-1-5in', '1-1/2 in hose', 1.5, 24, NULL, NULL, 'rohnert-park', 'library', '2026-11-25T00:00:00.000000000Z'),
    ('std-1-75in', '1-3/4 in hose', 1.75, 15.5, 9.5, 15.5, 'florida-pump-exam', 'library', '2026-11-25T00:00:00.000000000Z'),
    ('std-2in', '2 in hose', 2, 8, 3.9, 8, 'florida-pump-exam', 'library', '2026-11-25T00:00:00.000000000Z'),
    ('std-2-5in', '2-1/2 in hose', 2.5, 2, 1.2, 2, 'rohnert-park', 'library', '2026-11-25T00:00:00.000000000Z'),
    ('std-3in', '3 in hose with 2-1/2 in couplings', 3, 0.8, NULL, NULL, 'rohnert-park', 'library',
        '2026-11-25T00:00:00.000000000Z'),
    ('std-3in-3in-couplings', '3 in hose with 3 in couplings', 3, 0.677, NULL, NULL, 'florida-pump-exam', 'library',
        '2026-11-25T00:00:00.000000000Z'),
    ('std-3-5in', '3-1/2 in hose', 3.5, 0.34, NULL, NULL, 'lewis-13', 'library', '2026-11-25T00:00:00.000000000Z'),
    ('std-4in', '4 in supply hose', 4, 0.2, NULL, NULL, 'rohnert-park', 'library', '2026-11-25T00:00:00.000000000Z'),
    ('std-4-5in', '4-1/2 in supply hose', 4.5, 0.1, NULL, NULL, 'rohnert-park', 'library', '2026-11-25T00:00:00.000000000Z'),
    ('std-5in', '5 in supply hose', 5, 0.08, 0.05, 0.08, 'rohnert-park', 'library', '2026-11-25T00:00:00.000000000Z'),
    ('std-6in', '6 in supply hose', 6, 0.05, NULL, NULL, 'memory', 'library', '2026-11-25T00:00:00.000000000Z');

-- Sources disagree on appliances: one prints 25 psi for a wye, another 15 psi for a deck gun.
INSERT INTO appliances (
    id, name, loss_psi_per_100gpm2, fixed_loss_psi, at_or_above_gpm, loss_low_psi_or_psi_per_100gpm2,
    loss_high_psi_or_psi_per_100gpm2, source, origin, updated_at
) VALUES
    ('std-wye', 'Wye', NULL, 10, 350, 10, 25, 'ifsta-pump-ops', 'library', '2026-11-25T00:00:00.000000000Z'),
    ('std-siamese', 'Siamese', NULL, 10, 350, NULL, NULL, 'ifsta-pump-ops', 'library', '2026-11-25T00:00:00.000000000Z'),
    ('std-manifold', 'Manifold', NULL, 10, 350, NULL, NULL, 'ifsta-pump-ops', 'library', '2026-11-25T00:00:00.000000000Z'),
    ('std-water-thief', 'Water thief', NULL, 10, 350, NULL, NULL, 'ifsta-pump-ops', 'library', '2026-11-25T00:00:00.000000000Z'),
    ('std-master-stream', 'Master stream device', NULL, 25, 0, 15, 25, 'ifsta-pump-ops', 'library',
        '2026-11-25T00:00:00.000000000Z'),
    ('std-intake-valve', 'Intake valve', 0.05, NULL, NULL, 0.02, 0.05, 'memory', 'library', '2026-11-25T00:00:00.000000000Z');

-- The through figure is the maker's test. A test of a whole lay (`shapiro-relay`) shows the boosted legs cost more than the maker
-- says; how much of it each leg takes is an estimate.
INSERT INTO hydrant_valves (
    id, name, through_psi_per_100gpm2, through_low_psi_per_100gpm2, through_high_psi_per_100gpm2, to_pump_psi_per_100gpm2,
    from_pump_psi_per_100gpm2, source, origin, updated_at
) VALUES
    ('std-four-way', 'Four-way hydrant valve', 0.22, 0.04, 0.23, 0.10, 0.05, 'four-way-maker-test', 'library',
        '2026-11-25T00:00:00.000000000Z');
