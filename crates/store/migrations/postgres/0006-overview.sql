-- What lists and overviews ask, written in the same transaction as what it follows from, and made
-- again from it by the program when this edition is reached. `day` counts days since 1970-01-01; it
-- is the day that the job names, else that on which the record was begun. `stands`: 0 open, 1 over
-- and not judged, 2 judged and not signed, 3 signed.
ALTER TABLE record ADD COLUMN day BIGINT NOT NULL DEFAULT 0;
ALTER TABLE record ADD COLUMN made_with TEXT NOT NULL DEFAULT '';
ALTER TABLE record ADD COLUMN verdict TEXT NOT NULL DEFAULT '';
ALTER TABLE record ADD COLUMN stands BIGINT NOT NULL DEFAULT 0;
DROP INDEX record_asset;
CREATE INDEX record_of ON record (asset, begun_us, id);
CREATE INDEX record_stands ON record (stands, begun_us, id);
CREATE INDEX record_begun ON record (begun_us, id);
CREATE INDEX record_made_with ON record (made_with, begun_us, id);

-- One row for each apparatus that is kept or was tested. `words` is its name in small letters, as
-- the program makes them. `last` is its newest record that is over, of real tests where there are
-- any; empty where there is none. `badness` says which verdict is shown first, 0 the worst.
CREATE TABLE life (
    name TEXT PRIMARY KEY,
    words TEXT NOT NULL,
    class TEXT NOT NULL,
    item TEXT NOT NULL,
    tests BIGINT NOT NULL,
    open BIGINT NOT NULL,
    last TEXT NOT NULL,
    last_day BIGINT,
    last_kind TEXT NOT NULL,
    verdict TEXT NOT NULL,
    badness BIGINT NOT NULL
);
CREATE INDEX life_badness ON life (badness, last_day, name);
CREATE INDEX life_day ON life (last_day);
CREATE INDEX life_item ON life (item, last_day);
CREATE INDEX life_class ON life (class, last_day);
