-- A sheet before its record is begun: the job file as far as it is written. Once begun, what is
-- sealed in the record counts, and this stays as it was.
CREATE TABLE sheet (
    id TEXT PRIMARY KEY,
    begun_us BIGINT NOT NULL,
    kept_us BIGINT NOT NULL,
    asset TEXT NOT NULL,
    given TEXT NOT NULL,
    record TEXT REFERENCES record (id)
);
CREATE INDEX sheet_record ON sheet (record);

-- `code` is that of the record when it was signed, `findings` the name of those that were signed.
-- The seal covers every column.
CREATE TABLE signature (
    id TEXT PRIMARY KEY,
    record TEXT NOT NULL REFERENCES record (id),
    signed_us BIGINT NOT NULL,
    name TEXT NOT NULL,
    role TEXT NOT NULL,
    remark TEXT,
    code TEXT NOT NULL,
    findings TEXT REFERENCES findings (id),
    seal BYTEA NOT NULL CHECK (length(seal) = 32)
);
CREATE INDEX signature_record ON signature (record);

-- `secret` is a password hash in the PHC string format.
CREATE TABLE person (
    name TEXT PRIMARY KEY,
    kept_us BIGINT NOT NULL,
    secret TEXT NOT NULL
);

-- A browser that may come in; `token` is the SHA-256 of what it carries.
CREATE TABLE pass (
    token BYTEA PRIMARY KEY CHECK (length(token) = 32),
    person TEXT NOT NULL REFERENCES person (name),
    device TEXT NOT NULL,
    may TEXT NOT NULL CONSTRAINT pass_may CHECK (may IN ('operate', 'say', 'watch')),
    made_us BIGINT NOT NULL,
    until_us BIGINT NOT NULL
);
