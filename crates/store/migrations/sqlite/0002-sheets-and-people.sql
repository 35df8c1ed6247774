-- A sheet before its record is begun: the job file as far as it is written. Once begun, what is
-- sealed in the record counts, and this stays as it was.
CREATE TABLE sheet (
    id TEXT PRIMARY KEY,
    begun_us INTEGER NOT NULL,
    kept_us INTEGER NOT NULL,
    asset TEXT NOT NULL,
    given TEXT NOT NULL,
    record TEXT REFERENCES record (id)
) STRICT;
CREATE INDEX sheet_record ON sheet (record);

-- `code` is that of the record when it was signed, `findings` the name of those that were signed.
-- The seal covers every column.
CREATE TABLE signature (
    id TEXT PRIMARY KEY,
    record TEXT NOT NULL REFERENCES record (id),
    signed_us INTEGER NOT NULL,
    name TEXT NOT NULL,
    role TEXT NOT NULL,
    remark TEXT,
    code TEXT NOT NULL,
    findings TEXT REFERENCES findings (id),
    seal BLOB NOT NULL CHECK (length(seal) = 32)
) STRICT;
CREATE INDEX signature_record ON signature (record);

-- `secret` is a password hash in the PHC string format.
CREATE TABLE person (
    name TEXT PRIMARY KEY,
    kept_us INTEGER NOT NULL,
    secret TEXT NOT NULL
) STRICT;

-- A browser that may come in; `token` is the SHA-256 of what it carries.
CREATE TABLE pass (
    token BLOB PRIMARY KEY CHECK (length(token) = 32),
    person TEXT NOT NULL REFERENCES person (name),
    device TEXT NOT NULL,
    may TEXT NOT NULL CHECK (may IN ('operate', 'say', 'watch')),
    made_us INTEGER NOT NULL,
    until_us INTEGER NOT NULL
) STRICT;

CREATE TRIGGER sheet_is_kept BEFORE DELETE ON sheet WHEN OLD.record IS NOT NULL
BEGIN SELECT RAISE(ABORT, 'a sheet that was begun is never taken out'); END;
CREATE TRIGGER sheet_stays BEFORE UPDATE ON sheet WHEN OLD.record IS NOT NULL
BEGIN SELECT RAISE(ABORT, 'a sheet that was begun is never changed'); END;
CREATE TRIGGER signature_stays BEFORE UPDATE ON signature
BEGIN SELECT RAISE(ABORT, 'a signature is never changed'); END;
CREATE TRIGGER signature_is_kept BEFORE DELETE ON signature
BEGIN SELECT RAISE(ABORT, 'a signature is never taken out'); END;
