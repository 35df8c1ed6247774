-- Times are microseconds since 1970-01-01T00:00Z, by the wall clock. `bytes` are as they were
-- sealed; every other column of a record can be made again from them, and `begun_us`, to the
-- millisecond, from its name. The seal of findings covers all their columns.

CREATE TABLE installation (
    only INTEGER PRIMARY KEY CHECK (only = 1),
    writer TEXT NOT NULL
) STRICT;

CREATE TABLE record (
    id TEXT PRIMARY KEY,
    writer TEXT NOT NULL,
    kind TEXT NOT NULL,
    asset TEXT NOT NULL,
    begun_us INTEGER NOT NULL,
    last_us INTEGER NOT NULL,
    closed INTEGER NOT NULL,
    events INTEGER NOT NULL,
    readings INTEGER NOT NULL
) STRICT;
CREATE INDEX record_asset ON record (asset);

-- `seq` and `seal` are of the last event.
CREATE TABLE chain (
    id INTEGER PRIMARY KEY,
    record TEXT NOT NULL REFERENCES record (id),
    writer TEXT NOT NULL,
    seq INTEGER NOT NULL,
    seal BLOB NOT NULL CHECK (length(seal) = 32),
    UNIQUE (record, writer)
) STRICT;

CREATE TABLE event (
    chain INTEGER NOT NULL REFERENCES chain (id),
    seq INTEGER NOT NULL,
    bytes BLOB NOT NULL,
    seal BLOB NOT NULL CHECK (length(seal) = 32),
    PRIMARY KEY (chain, seq)
) STRICT;

CREATE TABLE findings (
    id TEXT PRIMARY KEY,
    record TEXT NOT NULL REFERENCES record (id),
    judged_us INTEGER NOT NULL,
    method TEXT NOT NULL,
    verdict TEXT NOT NULL,
    code TEXT NOT NULL,
    bytes BLOB NOT NULL,
    seal BLOB NOT NULL CHECK (length(seal) = 32)
) STRICT;
CREATE INDEX findings_record ON findings (record);

CREATE TABLE job (
    id TEXT PRIMARY KEY,
    digest BLOB NOT NULL UNIQUE,
    kept_us INTEGER NOT NULL,
    asset TEXT NOT NULL,
    day TEXT NOT NULL,
    given TEXT NOT NULL
) STRICT;

-- A thing that changes is kept anew; the newest row is how it stands.
CREATE TABLE thing (
    id TEXT PRIMARY KEY,
    kind TEXT NOT NULL,
    name TEXT NOT NULL,
    kept_us INTEGER NOT NULL,
    bytes TEXT NOT NULL
) STRICT;
CREATE INDEX thing_name ON thing (kind, name);

CREATE TABLE calibration (
    id TEXT PRIMARY KEY,
    kind TEXT NOT NULL,
    name TEXT NOT NULL,
    day TEXT NOT NULL,
    due TEXT,
    certificate TEXT,
    note TEXT,
    kept_us INTEGER NOT NULL
) STRICT;
CREATE INDEX calibration_name ON calibration (kind, name, day);

CREATE TRIGGER event_stays BEFORE UPDATE ON event
BEGIN SELECT RAISE(ABORT, 'an event is never changed'); END;
CREATE TRIGGER event_is_kept BEFORE DELETE ON event
BEGIN SELECT RAISE(ABORT, 'an event is never taken out'); END;
CREATE TRIGGER chain_goes_on BEFORE UPDATE ON chain
WHEN NEW.id <> OLD.id OR NEW.record <> OLD.record OR NEW.writer <> OLD.writer OR NEW.seq <= OLD.seq
BEGIN SELECT RAISE(ABORT, 'a chain only grows'); END;
CREATE TRIGGER chain_is_kept BEFORE DELETE ON chain
BEGIN SELECT RAISE(ABORT, 'a chain is never taken out'); END;
CREATE TRIGGER record_is_kept BEFORE DELETE ON record
BEGIN SELECT RAISE(ABORT, 'a record is never taken out'); END;
CREATE TRIGGER findings_stay BEFORE UPDATE ON findings
BEGIN SELECT RAISE(ABORT, 'findings are never changed'); END;
CREATE TRIGGER findings_are_kept BEFORE DELETE ON findings
BEGIN SELECT RAISE(ABORT, 'findings are never taken out'); END;
CREATE TRIGGER calibration_stays BEFORE UPDATE ON calibration
BEGIN SELECT RAISE(ABORT, 'a calibration is never changed'); END;
CREATE TRIGGER calibration_is_kept BEFORE DELETE ON calibration
BEGIN SELECT RAISE(ABORT, 'a calibration is never taken out'); END;
