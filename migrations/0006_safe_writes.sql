-- What makes a write safe: the version it was meant for, who did it, and the answer it was given.

-- The versions of the rows are what a writer says he has read. They are raised when a row is retired and when it comes back, so that no version is met
-- twice.
DROP VIEW record_standing;
CREATE VIEW record_standing (kind, id, library, live, version) AS
SELECT 'hydrant', id, 0, retired_at IS NULL, version FROM hydrants
UNION ALL SELECT 'hose_type', id, origin = 'library', retired_at IS NULL, version FROM hose_types
UNION ALL SELECT 'appliance', id, origin = 'library', retired_at IS NULL, version FROM appliances
UNION ALL SELECT 'hydrant_valve', id, origin = 'library', retired_at IS NULL, version FROM hydrant_valves
UNION ALL SELECT 'pumper', id, 0, retired_at IS NULL, version FROM pumpers
UNION ALL SELECT 'lay_profile', id, 0, retired_at IS NULL, version FROM lay_profiles;

-- One row for each record changed, written with the change itself.
CREATE TABLE audit (
    seq INTEGER PRIMARY KEY AUTOINCREMENT,
    at TEXT NOT NULL,
    -- The name as it was then: keys can be renamed and revoked.
    author TEXT NOT NULL,
    key_id TEXT,
    request_id TEXT,
    action TEXT NOT NULL,
    kind TEXT NOT NULL,
    record_id TEXT,
    record_version INTEGER,
    detail TEXT CHECK (detail IS NULL OR json_valid(detail))
) STRICT;

CREATE TRIGGER audit_never_edited BEFORE UPDATE ON audit
BEGIN SELECT RAISE(ABORT, 'the audit is never edited'); END;

CREATE TRIGGER audit_never_deleted BEFORE DELETE ON audit
BEGIN SELECT RAISE(ABORT, 'the audit is never edited'); END;

-- INSERT OR REPLACE deletes without firing DELETE triggers.
CREATE TRIGGER audit_never_replaced BEFORE INSERT ON audit
WHEN EXISTS (SELECT 1 FROM audit WHERE seq = NEW.seq)
BEGIN SELECT RAISE(ABORT, 'the audit is never edited'); END;

-- Answers kept so that a request sent again is answered again and not done again. Written with what they answer.
CREATE TABLE kept_answers (
    -- The id of the key the author came with, else his name: two authors may choose the same key.
    author TEXT NOT NULL,
    idempotency_key TEXT NOT NULL CHECK (length(idempotency_key) BETWEEN 1 AND 255),
    -- SHA-256 of what was asked.
    request BLOB NOT NULL CHECK (length(request) = 32),
    status INTEGER NOT NULL CHECK (status BETWEEN 200 AND 299),
    location TEXT,
    body BLOB NOT NULL,
    answered_at TEXT NOT NULL,
    PRIMARY KEY (author, idempotency_key)
) STRICT;

CREATE INDEX kept_answers_by_time ON kept_answers (answered_at);
