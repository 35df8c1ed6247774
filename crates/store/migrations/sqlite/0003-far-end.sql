-- A device of the far end says its own two things and nothing else.
CREATE TABLE pass_of_now (
    token BLOB PRIMARY KEY CHECK (length(token) = 32),
    person TEXT NOT NULL REFERENCES person (name),
    device TEXT NOT NULL,
    may TEXT NOT NULL CHECK (may IN ('operate', 'say', 'far-end', 'watch')),
    made_us INTEGER NOT NULL,
    until_us INTEGER NOT NULL
) STRICT;
INSERT INTO pass_of_now (token, person, device, may, made_us, until_us)
    SELECT token, person, device, may, made_us, until_us FROM pass;
DROP TABLE pass;
ALTER TABLE pass_of_now RENAME TO pass;
