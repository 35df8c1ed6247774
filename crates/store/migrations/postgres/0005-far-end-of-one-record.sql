-- A device of the far end is let in for one record; one that was let in before is for none, and is
-- paired anew.
ALTER TABLE pass ADD COLUMN record TEXT;
