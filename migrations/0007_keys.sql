-- Keys to the service. The secret is shown once to whoever made the key, and only its SHA-256 is here.
CREATE TABLE keys (
    -- UUID version 7 in its text form, so that ids sort by time of making.
    id TEXT NOT NULL PRIMARY KEY CHECK (length(id) = 36),
    name TEXT NOT NULL CHECK (length(name) BETWEEN 1 AND 64),
    -- JSON array of scopes.
    scopes TEXT NOT NULL CHECK (json_valid(scopes) AND json_array_length(scopes) > 0),
    sha256 BLOB NOT NULL UNIQUE CHECK (length(sha256) = 32),
    created_at TEXT NOT NULL,
    revoked_at TEXT
) STRICT;

-- What a key did is put down to it for good: it is revoked, once, and otherwise never changes.
CREATE TRIGGER keys_only_revoked BEFORE UPDATE ON keys
WHEN OLD.revoked_at IS NOT NULL
    OR NEW.revoked_at IS NULL
    OR NEW.id IS NOT OLD.id
    OR NEW.name IS NOT OLD.name
    OR NEW.scopes IS NOT OLD.scopes
    OR NEW.sha256 IS NOT OLD.sha256
    OR NEW.created_at IS NOT OLD.created_at
BEGIN SELECT RAISE(ABORT, 'a key is never edited, only revoked once'); END;

CREATE TRIGGER keys_never_deleted BEFORE DELETE ON keys
BEGIN SELECT RAISE(ABORT, 'a key is never deleted'); END;

CREATE TRIGGER keys_never_replaced BEFORE INSERT ON keys
WHEN EXISTS (SELECT 1 FROM keys WHERE id = NEW.id OR sha256 = NEW.sha256)
BEGIN SELECT RAISE(ABORT, 'a key is never replaced'); END;
