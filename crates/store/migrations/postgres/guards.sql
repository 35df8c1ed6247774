-- Against slips of a hand with a tool of its own; the seals are for intent. Where the engine has no
-- triggers the program goes on without: decision 0017.

CREATE OR REPLACE FUNCTION ohmstead_refuse() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    RAISE EXCEPTION '%', TG_ARGV[0];
END
$$;

CREATE OR REPLACE TRIGGER event_stays BEFORE UPDATE ON event
    FOR EACH ROW EXECUTE FUNCTION ohmstead_refuse('an event is never changed');
CREATE OR REPLACE TRIGGER event_is_kept BEFORE DELETE ON event
    FOR EACH ROW EXECUTE FUNCTION ohmstead_refuse('an event is never taken out');
CREATE OR REPLACE TRIGGER events_are_kept BEFORE TRUNCATE ON event
    FOR EACH STATEMENT EXECUTE FUNCTION ohmstead_refuse('an event is never taken out');
CREATE OR REPLACE TRIGGER chain_goes_on BEFORE UPDATE ON chain
    FOR EACH ROW WHEN (NEW.id <> OLD.id OR NEW.record <> OLD.record OR NEW.writer <> OLD.writer
        OR NEW.seq <= OLD.seq)
    EXECUTE FUNCTION ohmstead_refuse('a chain only grows');
CREATE OR REPLACE TRIGGER chain_is_kept BEFORE DELETE ON chain
    FOR EACH ROW EXECUTE FUNCTION ohmstead_refuse('a chain is never taken out');
CREATE OR REPLACE TRIGGER record_is_kept BEFORE DELETE ON record
    FOR EACH ROW EXECUTE FUNCTION ohmstead_refuse('a record is never taken out');
CREATE OR REPLACE TRIGGER findings_stay BEFORE UPDATE ON findings
    FOR EACH ROW EXECUTE FUNCTION ohmstead_refuse('findings are never changed');
CREATE OR REPLACE TRIGGER findings_are_kept BEFORE DELETE ON findings
    FOR EACH ROW EXECUTE FUNCTION ohmstead_refuse('findings are never taken out');
CREATE OR REPLACE TRIGGER calibration_stays BEFORE UPDATE ON calibration
    FOR EACH ROW EXECUTE FUNCTION ohmstead_refuse('a calibration is never changed');
CREATE OR REPLACE TRIGGER calibration_is_kept BEFORE DELETE ON calibration
    FOR EACH ROW EXECUTE FUNCTION ohmstead_refuse('a calibration is never taken out');
CREATE OR REPLACE TRIGGER sheet_is_kept BEFORE DELETE ON sheet
    FOR EACH ROW WHEN (OLD.record IS NOT NULL)
    EXECUTE FUNCTION ohmstead_refuse('a sheet that was begun is never taken out');
CREATE OR REPLACE TRIGGER sheet_stays BEFORE UPDATE ON sheet
    FOR EACH ROW WHEN (OLD.record IS NOT NULL)
    EXECUTE FUNCTION ohmstead_refuse('a sheet that was begun is never changed');
CREATE OR REPLACE TRIGGER signature_stays BEFORE UPDATE ON signature
    FOR EACH ROW EXECUTE FUNCTION ohmstead_refuse('a signature is never changed');
CREATE OR REPLACE TRIGGER signature_is_kept BEFORE DELETE ON signature
    FOR EACH ROW EXECUTE FUNCTION ohmstead_refuse('a signature is never taken out');
CREATE OR REPLACE TRIGGER refused_is_kept BEFORE DELETE ON refused
    FOR EACH ROW EXECUTE FUNCTION ohmstead_refuse('what was refused is never taken out');
