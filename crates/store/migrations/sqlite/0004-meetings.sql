-- Another laptop may exchange records, and nothing else.
CREATE TABLE pass_of_now (
    token BLOB PRIMARY KEY CHECK (length(token) = 32),
    person TEXT NOT NULL REFERENCES person (name),
    device TEXT NOT NULL,
    may TEXT NOT NULL CHECK (may IN ('operate', 'say', 'far-end', 'watch', 'exchange')),
    made_us INTEGER NOT NULL,
    until_us INTEGER NOT NULL
) STRICT;
INSERT INTO pass_of_now (token, person, device, may, made_us, until_us)
    SELECT token, person, device, may, made_us, until_us FROM pass;
DROP TABLE pass;
ALTER TABLE pass_of_now RENAME TO pass;

-- The office that this database meets; `token` is what it carries to be known there.
CREATE TABLE office (
    address TEXT PRIMARY KEY,
    token BLOB CHECK (length(token) = 32),
    writer TEXT,
    tried_us INTEGER,
    met_us INTEGER,
    told TEXT
) STRICT;

-- Laptops that met this database to the end.
CREATE TABLE laptop (
    writer TEXT PRIMARY KEY,
    device TEXT NOT NULL,
    met_us INTEGER NOT NULL,
    told TEXT NOT NULL
) STRICT;

-- What was not taken in, by name; `giver` is the database it came from, or that refused it.
CREATE TABLE refused (
    id TEXT PRIMARY KEY,
    seen_us INTEGER NOT NULL,
    giver TEXT NOT NULL,
    told TEXT NOT NULL
) STRICT;
CREATE TRIGGER refused_is_kept BEFORE DELETE ON refused
BEGIN SELECT RAISE(ABORT, 'what was refused is never taken out'); END;
