-- What would close the gaps that a run found, where that was asked.

ALTER TABLE coverage_runs ADD COLUMN remedies TEXT CHECK (remedies IS NULL OR json_valid(remedies));
