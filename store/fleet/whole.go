package fleet

import (
	"context"

	"github.com/jackc/pgx/v5"

	"flitch/process/evidence"
)

// Whole adds to the report whether what is there of a site ends where it was sent to, and
// whether what guards the tables is on.
func (s *Site) Whole(ctx context.Context, report *evidence.Report) error {
	const what = "sent"
	var beyond, guards int
	var hash string
	err := s.in.tx.QueryRow(ctx, `SELECT
		(SELECT count(*) FROM flitch.readings WHERE site = $1 AND seq > $2) + (SELECT count(*) FROM flitch.commands WHERE site = $1 AND seq > $2) +
		(SELECT count(*) FROM flitch.ticks WHERE site = $1 AND seq > $2) + (SELECT count(*) FROM flitch.journal WHERE site = $1 AND seq > $3) +
		(SELECT count(*) FROM flitch.signatures WHERE site = $1 AND line > $3),
		coalesce((SELECT hash FROM flitch.journal WHERE site = $1 AND seq = $3), ''),
		(SELECT count(*) FROM pg_trigger t JOIN pg_class c ON c.oid = t.tgrelid WHERE c.relnamespace = 'flitch'::regnamespace
			AND t.tgname IN ('never', 'own', 'forward') AND t.tgenabled = 'O')`, s.mark.site, s.mark.logSeq, s.mark.journalSeq).Scan(&beyond, &hash, &guards)
	if err != nil {
		return explain(err, s.in.at.String())
	}
	if guards != guarded {
		report.Add(evidence.LookAt, "guards", "%d of %d of what guards the tables against changes are on: flitch fleet init does not put them back, look who took them off", guards, guarded)
	}
	digest := ""
	err = s.EachRow(ctx, s.mark.logSeq, s.mark.logSeq, func(r *evidence.Row) error { digest = digestOf(r); return nil })
	switch {
	case err != nil:
		return err
	case beyond > 0:
		report.Add(evidence.NotMet, what, "%d rows stand behind the end of what was sent: somebody else put them in", beyond)
	case hash != s.mark.journalHash:
		report.Add(evidence.NotMet, what, "line %d of the journal, the last that was sent, is missing or another one", s.mark.journalSeq)
	case digest != s.mark.logDigest:
		report.Add(evidence.NotMet, what, "number %d of the log, the last that was sent, is missing or another one", s.mark.logSeq)
	default:
		report.Add(evidence.Met, what, "to number %d of the log and line %d of the journal, as it was sent", s.mark.logSeq, s.mark.journalSeq)
	}
	return nil
}

// guarded is how many triggers the migrations make: two on each of six tables, two on sites.
const guarded = 14

// A Paper is the record of one closed batch as of what was said of it.
type Paper struct {
	Batch string
	Said  int64
}

// Papers lists the records that are there.
func (s *Site) Papers(ctx context.Context) (out []Paper, err error) {
	err = each(ctx, s.in, func(row pgx.Rows) error {
		var p Paper
		err := row.Scan(&p.Batch, &p.Said)
		p.Batch = original(p.Batch)
		out = append(out, p)
		return err
	}, "SELECT batch, said FROM flitch.records WHERE site = $1 ORDER BY batch, said", s.mark.site)
	return out, err
}

// Paper returns the record as JSON, and the proof; empty: it is at the site only.
func (s *Site) Paper(ctx context.Context, p Paper) (record, proof []byte, err error) {
	var text string
	err = s.in.tx.QueryRow(ctx, "SELECT record::text, proof FROM flitch.records WHERE site = $1 AND batch = $2 AND said = $3", s.mark.site, exact(p.Batch), p.Said).Scan(&text, &proof)
	return []byte(text), proof, explain(err, s.in.at.String())
}
