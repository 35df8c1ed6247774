-- A device of the far end says its own two things and nothing else.
ALTER TABLE pass DROP CONSTRAINT pass_may;
ALTER TABLE pass ADD CONSTRAINT pass_may_now CHECK (may IN ('operate', 'say', 'far-end', 'watch'));
