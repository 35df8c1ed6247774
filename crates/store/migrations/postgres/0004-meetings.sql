-- Another laptop may exchange records, and nothing else.
ALTER TABLE pass DROP CONSTRAINT pass_may_now;
ALTER TABLE pass ADD CONSTRAINT pass_may_then
    CHECK (may IN ('operate', 'say', 'far-end', 'watch', 'exchange'));

-- The office that this database meets; `token` is what it carries to be known there.
CREATE TABLE office (
    address TEXT PRIMARY KEY,
    token BYTEA CHECK (length(token) = 32),
    writer TEXT,
    tried_us BIGINT,
    met_us BIGINT,
    told TEXT
);

-- Laptops that met this database to the end.
CREATE TABLE laptop (
    writer TEXT PRIMARY KEY,
    device TEXT NOT NULL,
    met_us BIGINT NOT NULL,
    told TEXT NOT NULL
);

-- What was not taken in, by name; `giver` is the database it came from, or that refused it.
CREATE TABLE refused (
    id TEXT PRIMARY KEY,
    seen_us BIGINT NOT NULL,
    giver TEXT NOT NULL,
    told TEXT NOT NULL
);
