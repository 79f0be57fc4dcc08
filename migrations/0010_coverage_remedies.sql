-- What would close the gaps that a run found, where that was asked.

ALTER TABLE coverage_runs ADD COLUMN remedies TEXT CHECK (json_valid(remedies));
