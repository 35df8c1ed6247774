-- Times are microseconds since 1970-01-01T00:00Z, by the wall clock. `bytes` are as they were
-- sealed; every other column of a record can be made again from them, and `begun_us`, to the
-- millisecond, from its name. The seal of findings covers all their columns.

CREATE TABLE installation (
    "only" BIGINT PRIMARY KEY CHECK ("only" = 1),
    writer TEXT NOT NULL
);

CREATE TABLE record (
    id TEXT PRIMARY KEY,
    writer TEXT NOT NULL,
    kind TEXT NOT NULL,
    asset TEXT NOT NULL,
    begun_us BIGINT NOT NULL,
    last_us BIGINT NOT NULL,
    closed BIGINT NOT NULL,
    events BIGINT NOT NULL,
    readings BIGINT NOT NULL
);
CREATE INDEX record_asset ON record (asset);

-- `seq` and `seal` are of the last event.
CREATE TABLE chain (
    id BIGINT PRIMARY KEY,
    record TEXT NOT NULL REFERENCES record (id),
    writer TEXT NOT NULL,
    seq BIGINT NOT NULL,
    seal BYTEA NOT NULL CHECK (length(seal) = 32),
    UNIQUE (record, writer)
);

CREATE TABLE event (
    chain BIGINT NOT NULL REFERENCES chain (id),
    seq BIGINT NOT NULL,
    bytes BYTEA NOT NULL,
    seal BYTEA NOT NULL CHECK (length(seal) = 32),
    PRIMARY KEY (chain, seq)
);

CREATE TABLE findings (
    id TEXT PRIMARY KEY,
    record TEXT NOT NULL REFERENCES record (id),
    judged_us BIGINT NOT NULL,
    method TEXT NOT NULL,
    verdict TEXT NOT NULL,
    code TEXT NOT NULL,
    bytes BYTEA NOT NULL,
    seal BYTEA NOT NULL CHECK (length(seal) = 32)
);
CREATE INDEX findings_record ON findings (record);

CREATE TABLE job (
    id TEXT PRIMARY KEY,
    digest BYTEA NOT NULL UNIQUE,
    kept_us BIGINT NOT NULL,
    asset TEXT NOT NULL,
    day TEXT NOT NULL,
    given TEXT NOT NULL
);

-- A thing that changes is kept anew; the newest row is how it stands.
CREATE TABLE thing (
    id TEXT PRIMARY KEY,
    kind TEXT NOT NULL,
    name TEXT NOT NULL,
    kept_us BIGINT NOT NULL,
    bytes TEXT NOT NULL
);
CREATE INDEX thing_name ON thing (kind, name);

CREATE TABLE calibration (
    id TEXT PRIMARY KEY,
    kind TEXT NOT NULL,
    name TEXT NOT NULL,
    day TEXT NOT NULL,
    due TEXT,
    certificate TEXT,
    note TEXT,
    kept_us BIGINT NOT NULL
);
CREATE INDEX calibration_name ON calibration (kind, name, day);
