-- Up to which number of the log every batch that was begun had its state told.
ALTER TABLE flitch.sites ADD COLUMN batches_seq bigint NOT NULL DEFAULT 0;

CREATE OR REPLACE FUNCTION flitch.forward() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF OLD.retired IS NOT NULL OR NEW.site <> OLD.site OR NEW.history <> OLD.history OR NEW.writer <> OLD.writer
        OR NEW.log_seq < OLD.log_seq OR NEW.journal_seq < OLD.journal_seq OR NEW.batches_seq < OLD.batches_seq THEN
        RAISE EXCEPTION 'how far a site was sent goes forward only' USING ERRCODE = 'insufficient_privilege';
    END IF;
    RETURN NEW;
END $$;
