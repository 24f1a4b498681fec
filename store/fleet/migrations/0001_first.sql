-- Many sites in one database. Times are UTC milliseconds since 1970, as the sites have them, but
-- for heard and retired, which are this server's own. A text that PostgreSQL cannot hold
-- (a zero byte, no UTF-8) stands as \x and its bytes in hex, and so does one that begins with \x.

CREATE TABLE flitch.sites (
    site         integer GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    name         text NOT NULL UNIQUE CHECK (name <> ''),
    history      text NOT NULL, -- hash of line 1 of its journal: which installation this is
    writer       name NOT NULL DEFAULT current_user, -- who alone may add to it
    log_seq      bigint NOT NULL DEFAULT 0, -- everything up to this number of the log is here
    log_digest   text NOT NULL DEFAULT '', -- SHA-256 of the row with that number
    log_at       bigint, -- when that row was taken in
    journal_seq  bigint NOT NULL DEFAULT 0,
    journal_hash text NOT NULL DEFAULT '',
    every_ms     bigint NOT NULL DEFAULT 0, -- how often it tells something
    told         bigint NOT NULL DEFAULT 0, -- by its clock, when it last did
    heard        timestamptz NOT NULL DEFAULT now(), -- by ours
    retired      timestamptz -- its name was taken over by another history
);

CREATE TABLE flitch.readings (
    site     integer NOT NULL,
    seq      bigint NOT NULL,
    at       bigint NOT NULL,
    probe    text NOT NULL,
    measured bigint NOT NULL,
    received bigint NOT NULL,
    value    double precision, -- NULL: it has none
    quality  smallint, -- NULL: a plain reading, without a mark; 0 good, 1 suspect, 2 bad
    reason   text,
    device   bigint,
    raw      text,
    PRIMARY KEY (site, seq),
    UNIQUE (site, probe, measured)
);

CREATE TABLE flitch.commands (
    site  integer NOT NULL,
    seq   bigint NOT NULL,
    at    bigint NOT NULL,
    id    text NOT NULL,
    batch text NOT NULL,
    body  text NOT NULL, -- JSON, byte for byte as it is sealed
    PRIMARY KEY (site, seq),
    UNIQUE (site, id)
);
CREATE INDEX commands_batch ON flitch.commands (site, batch, seq);

CREATE TABLE flitch.ticks (
    site integer NOT NULL,
    seq  bigint NOT NULL,
    at   bigint NOT NULL,
    PRIMARY KEY (site, seq)
);

CREATE TABLE flitch.journal (
    site  integer NOT NULL,
    seq   bigint NOT NULL,
    at    bigint NOT NULL,
    batch text NOT NULL,
    kind  text NOT NULL,
    by    text NOT NULL,
    text  text NOT NULL,
    prev  text NOT NULL,
    hash  text NOT NULL,
    PRIMARY KEY (site, seq)
);

CREATE TABLE flitch.signatures (
    site      integer NOT NULL,
    line      bigint NOT NULL,
    hash      text NOT NULL,
    at        bigint NOT NULL,
    key       bytea NOT NULL,
    signature bytea NOT NULL,
    PRIMARY KEY (site, line)
);

-- The record of a batch that was closed, once for each line of the journal it speaks of: a
-- note or a review that comes later makes another.
CREATE TABLE flitch.records (
    site   integer NOT NULL,
    batch  text NOT NULL,
    said   bigint NOT NULL, -- number of the last that was said of the batch
    record json NOT NULL,
    proof  bytea NOT NULL, -- as flitch record --format proof writes it
    PRIMARY KEY (site, batch, said)
);

-- What a site says of now. The newest takes the place of the one before.
CREATE TABLE flitch.states (
    site    integer NOT NULL,
    batch   text NOT NULL,
    cursor  bigint NOT NULL, -- as far as this number of the log
    status  text NOT NULL,
    started bigint,
    state   text NOT NULL,
    PRIMARY KEY (site, batch)
);
CREATE TABLE flitch.glances (
    site integer PRIMARY KEY,
    seq  bigint NOT NULL,
    body json NOT NULL
);

-- What was written stays, whoever asks; the owner has to take these off first, and flitch
-- fleet verify finds what was changed then.
CREATE FUNCTION flitch.never() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    RAISE EXCEPTION 'what a site has sent is never changed or deleted (%)', TG_TABLE_NAME USING ERRCODE = 'insufficient_privilege';
END $$;

-- Row security knows no COPY, so the rows of a COPY are looked at together, after it.
CREATE FUNCTION flitch.own() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF EXISTS (SELECT FROM (SELECT DISTINCT site FROM fresh) f WHERE NOT EXISTS (
        SELECT FROM flitch.sites s WHERE s.site = f.site AND s.writer = current_user AND s.retired IS NULL)) THEN
        RAISE EXCEPTION '% may not write for this site', current_user USING ERRCODE = 'insufficient_privilege';
    END IF;
    RETURN NULL;
END $$;

DO $$
DECLARE one text;
BEGIN
    FOREACH one IN ARRAY ARRAY['readings', 'commands', 'ticks', 'journal', 'signatures', 'records'] LOOP
        EXECUTE format('CREATE TRIGGER never BEFORE UPDATE OR DELETE OR TRUNCATE ON flitch.%I FOR EACH STATEMENT EXECUTE FUNCTION flitch.never()', one);
        EXECUTE format('CREATE TRIGGER own AFTER INSERT ON flitch.%I REFERENCING NEW TABLE AS fresh FOR EACH STATEMENT EXECUTE FUNCTION flitch.own()', one);
    END LOOP;
END $$;

CREATE FUNCTION flitch.forward() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF OLD.retired IS NOT NULL OR NEW.site <> OLD.site OR NEW.history <> OLD.history OR NEW.writer <> OLD.writer
        OR NEW.log_seq < OLD.log_seq OR NEW.journal_seq < OLD.journal_seq THEN
        RAISE EXCEPTION 'how far a site was sent goes forward only' USING ERRCODE = 'insufficient_privilege';
    END IF;
    RETURN NEW;
END $$;
CREATE TRIGGER forward BEFORE UPDATE ON flitch.sites FOR EACH ROW EXECUTE FUNCTION flitch.forward();
CREATE TRIGGER never BEFORE DELETE OR TRUNCATE ON flitch.sites FOR EACH STATEMENT EXECUTE FUNCTION flitch.never();

-- A site sees its own, and who may read all readings sees all.
ALTER TABLE flitch.sites ENABLE ROW LEVEL SECURITY;
CREATE POLICY own ON flitch.sites USING (writer = current_user) WITH CHECK (writer = current_user);
CREATE POLICY readers ON flitch.sites FOR SELECT USING (has_table_privilege('flitch.readings', 'SELECT'));
DO $$
DECLARE one text;
BEGIN
    FOREACH one IN ARRAY ARRAY['states', 'glances'] LOOP
        EXECUTE format('ALTER TABLE flitch.%I ENABLE ROW LEVEL SECURITY', one);
        EXECUTE format('CREATE POLICY own ON flitch.%I USING (site IN (SELECT s.site FROM flitch.sites s WHERE s.writer = current_user AND s.retired IS NULL))', one);
        EXECUTE format('CREATE POLICY readers ON flitch.%I FOR SELECT USING (has_table_privilege(''flitch.readings'', ''SELECT''))', one);
    END LOOP;
END $$;

-- For dashboards and spreadsheets.
CREATE VIEW flitch.measurements AS
    SELECT s.name AS site, r.probe, to_timestamp(r.measured / 1000.0) AS measured, r.value,
        CASE r.quality WHEN 1 THEN 'suspect' WHEN 2 THEN 'bad' ELSE 'good' END AS quality, r.reason
    FROM flitch.readings r JOIN flitch.sites s USING (site);
