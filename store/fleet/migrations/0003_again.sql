-- A reading that a site had removed by its owner's rule, and that is imported there once more, is a
-- new row of its log: of one moment there are two here then, by two numbers, and the later one is
-- in force. That no row comes twice rests on its number: site and number are the primary key.
ALTER TABLE flitch.readings DROP CONSTRAINT readings_site_probe_measured_key;
CREATE INDEX readings_measured ON flitch.readings (site, probe, measured, seq);

-- An id of a command can be longer than what an index holds, and then no row behind it would ever
-- come here. A site's own database takes an id once, and nothing here looks for one: it needs no
-- index. Of the name of a batch the index holds the beginning, which is all of every name that a
-- batch can have; of what was said of none the name may be anything.
ALTER TABLE flitch.commands DROP CONSTRAINT commands_site_id_key;
DROP INDEX flitch.commands_batch;
CREATE INDEX commands_batch ON flitch.commands (site, left(batch, 60), seq);

CREATE OR REPLACE VIEW flitch.measurements AS
    SELECT s.name AS site, r.probe, to_timestamp(r.measured / 1000.0) AS measured, r.value,
        CASE r.quality WHEN 1 THEN 'suspect' WHEN 2 THEN 'bad' ELSE 'good' END AS quality, r.reason
    FROM flitch.readings r JOIN flitch.sites s USING (site)
    WHERE NOT EXISTS (SELECT FROM flitch.readings l
        WHERE l.site = r.site AND l.probe = r.probe AND l.measured = r.measured AND l.seq > r.seq);
