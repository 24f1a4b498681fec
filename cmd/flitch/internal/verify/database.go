package verify

import (
	"context"
	"encoding/json"
	"fmt"
	"math"
	"slices"
	"time"

	"flitch/process"
	"flitch/process/engine"
	"flitch/process/evidence"
	"flitch/store"
)

// Database looks at all of the database at path. given are the fingerprints of the keys
// that its seals should be signed by, separated by commas; empty: any.
func Database(ctx context.Context, path, given string) (evidence.Report, error) {
	db, err := store.OpenBeside(path)
	if err != nil {
		return nil, err
	}
	defer db.Close()
	d := &database{db: db, own: db, given: given, with: "database", photo: db.Photo}
	return d.look(ctx, d.whole, d.journal, d.blocks, d.removed, d.seals, d.unsealed, d.signatures, d.batches)
}

// Rows are what can be looked at wherever it is kept.
type Rows interface {
	engine.Log
	EachLine(from, to int64, fn func(process.JournalLine) error) error
	EachRow(ctx context.Context, from, to int64, fn func(*evidence.Row) error) error
	Seals() ([]store.SealedLine, error)
	JournalHead() (seq int64, hash string, err error)
	Signatures(from, to int64) ([]evidence.Signature, error)
	Batches() ([]store.BatchRow, error)
	BatchesThrough() (int64, error)
	NextCommands(after int64, limit int) ([]process.Input, error)
	RemovedStrands(line int64) ([]evidence.Strand, error)
}

// Elsewhere looks at rows that are kept somewhere else than in a site's own database, where no
// photos are. What was looked at before comes first in the report.
func Elsewhere(ctx context.Context, rows Rows, given string, before evidence.Report) (evidence.Report, error) {
	d := &database{db: rows, given: given, with: "rows", report: before}
	return d.look(ctx, d.journal, d.seals, d.removedAway, d.unsealed, d.signatures, d.batches)
}

func (d *database) look(ctx context.Context, parts ...func(context.Context)) (evidence.Report, error) {
	for _, part := range parts {
		part(ctx)
		if err := ctx.Err(); err != nil {
			return d.report, err
		}
	}
	return d.report, nil
}

// lowest is below every number of a row: they begin with 1.
const lowest = math.MinInt64

type database struct {
	db     Rows
	own    *store.DB // db, if it is a site's own; nil: it is elsewhere, where nothing is packed or removed
	given  string
	with   string                                                 // what the keys come with
	photo  func(hash string) (jpeg []byte, found bool, err error) // nil: photos are elsewhere
	report evidence.Report
	lines  []store.SealedLine
	typing evidence.Typing
	rows   int64
	taken  [3]int64 // when the last row of each kind was taken in, ms
	photos int      // that are those that were named
	away   int      // that are elsewhere
	tail   int64    // number of the last row that is sealed

	missing   map[string]int64 // rows of a strand that were removed before they were sent elsewhere
	removals  []evidence.Removal
	removedAt map[int64]time.Time // by the line of the journal
}

func (d *database) whole(context.Context) {
	const what = "file"
	for _, check := range []func() error{d.own.Check, d.own.CheckSchema, d.own.CheckLinks} {
		if err := check(); err != nil {
			d.report.Add(evidence.NotMet, what, "%v", err)
			return
		}
	}
	d.report.Add(evidence.Met, what, "SQLite finds no damage; tables, and what guards them against changes, are as flitch makes them")
}

func (d *database) journal(context.Context) {
	var chain evidence.Chain
	if err := d.db.EachLine(0, 0, chain.Next); err != nil {
		d.report.Add(evidence.NotMet, "journal", "%v", err)
		return
	}
	_, hash := chain.Last()
	if chain.Lines == 0 {
		d.report.Add(evidence.NotMeasured, "journal", "it is empty")
		return
	}
	d.report.Add(evidence.Met, "journal", "%d lines follow from each other; the last is %s", chain.Lines, hash)
}

// seals makes every seal anew from the rows it is over.
func (d *database) seals(ctx context.Context) {
	const what = "seals"
	var err error
	if d.lines, err = d.db.Seals(); err != nil {
		d.report.Add(evidence.NotMet, what, "%v", err)
		return
	}
	for _, s := range d.lines {
		bad, err := d.seal(ctx, s)
		if err != nil {
			bad = err.Error()
		}
		if bad != "" {
			d.report.Add(evidence.NotMet, what, "journal line %d, over numbers %d to %d: %s", s.Seq, s.Seal.From, s.Seal.To, bad)
			return
		}
		d.tail = s.Seal.To
	}
	if len(d.lines) == 0 {
		d.report.Add(evidence.NotMeasured, what, "there is none")
		return
	}
	photos := fmt.Sprintf("%d photos as they name them", d.photos)
	if d.photo == nil {
		photos = fmt.Sprintf("%d photos are at the site", d.away)
	}
	d.report.Add(evidence.Met, what, "%d stand over numbers 1 to %d without a hole; all %d rows are as they were sealed, and %s", len(d.lines), d.tail, d.rows, photos)
}

func (d *database) seal(ctx context.Context, s store.SealedLine) (bad string, err error) {
	from := s.Seal.From
	switch {
	case from != d.tail+1:
		return fmt.Sprintf("the seal before it ends at %d", d.tail), nil
	case len(d.lines) > 0 && s.Seq == d.lines[0].Seq:
		from = lowest // what was put in before all is found too
	}
	var rows evidence.Sealer
	err = d.db.EachRow(ctx, from, s.Seal.To, func(r *evidence.Row) error {
		rows.Take(r)
		return d.row(r)
	})
	if err == nil {
		err = d.addRemoved(s.Seq, &rows)
	}
	found := rows.Seal(s.Seal.From, s.Seal.To)
	if err == nil && d.own == nil {
		found, err = d.sealAway(s, &rows)
	}
	if err != nil {
		return "", err
	}
	d.rows += found.Rows
	switch {
	case found.Rows != s.Seal.Rows:
		return fmt.Sprintf("there are %d rows, and %d were sealed", found.Rows, s.Seal.Rows), nil
	case found.Root != s.Seal.Root:
		return "the rows are not what was sealed", nil
	}
	return "", nil
}

// row looks at one row of the log by itself.
func (d *database) row(r *evidence.Row) error {
	if r.At < d.taken[r.Kind] {
		return fmt.Errorf("number %d was taken in before what is in front of it", r.Seq)
	}
	d.taken[r.Kind] = r.At
	if r.Kind != process.InputCommand {
		return nil
	}
	in, err := r.Input()
	if err != nil {
		return err
	}
	d.typing.Take(in)
	if p := in.Command.Photo; p != nil && d.photo == nil {
		d.away++
	} else if p != nil {
		jpeg, found, err := d.photo(p.SHA256)
		if err != nil || !found || store.PhotoHash(jpeg) != p.SHA256 {
			return fmt.Errorf("number %d: its photo is missing, or another one (%v)", r.Seq, err)
		}
		d.photos++
	}
	return nil
}

// unsealed looks at what came in after the last seal.
func (d *database) unsealed(ctx context.Context) {
	var rows int64
	from := int64(lowest)
	if n := len(d.lines); n > 0 {
		from = d.lines[n-1].Seal.To + 1
	}
	err := d.db.EachRow(ctx, from, math.MaxInt64, func(r *evidence.Row) error { rows++; return d.row(r) })
	if last, _, err := d.db.JournalHead(); err == nil && len(d.lines) > 0 && last > d.lines[len(d.lines)-1].Seq {
		end := d.lines[len(d.lines)-1].Seq
		d.report.Add(evidence.NotMeasured, "not yet sealed", "%d lines of the journal, from line %d on: nothing is signed over them", last-end, end+1)
	}
	if err != nil {
		d.report.Add(evidence.NotMet, "not yet sealed", "%v", err)
	} else if rows > 0 {
		d.report.Add(evidence.NotMeasured, "not yet sealed", "%d rows, from number %d on: nothing stands over them", rows, max(from, 1))
	}
	d.typing.Report(&d.report)
}

func (d *database) signatures(context.Context) {
	const what = "signature"
	all, err := d.db.Signatures(0, math.MaxInt64)
	if err != nil {
		d.report.Add(evidence.NotMet, what, "%v", err)
		return
	}
	var by evidence.Signers
	for _, s := range d.lines {
		i := slices.IndexFunc(all, func(g evidence.Signature) bool { return g.Line == s.Seq })
		switch {
		case i < 0 && s.Seal.Unsigned != "":
			d.report.Add(evidence.LookAt, what, "journal line %d was not signed: %s", s.Seq, s.Seal.Unsigned)
			continue
		case i < 0:
			d.report.Add(evidence.NotMet, what, "journal line %d has none", s.Seq)
			return
		case all[i].Hash != s.Hash:
			d.report.Add(evidence.NotMet, what, "the one of journal line %d is of another line", s.Seq)
			return
		case !all[i].Valid():
			d.report.Add(evidence.NotMet, what, "the one of journal line %d is not by its key", s.Seq)
			return
		}
		by.Take(&all[i])
		all = all[i+1:]
	}
	if len(all) > 0 {
		d.report.Add(evidence.NotMet, what, "the one of journal line %d is of no seal", all[0].Line)
		return
	}
	by.Report(&d.report, d.given, d.with)
}

// batches computes every batch anew and compares it with what is stored.
func (d *database) batches(ctx context.Context) {
	const what = "clocks"
	through, err := d.db.BatchesThrough() // before the list, which may grow meanwhile
	if err != nil {
		d.report.Add(evidence.NotMet, what, "%v", err)
		return
	}
	rows, err := d.db.Batches()
	if err != nil {
		d.report.Add(evidence.NotMet, what, "%v", err)
		return
	}
	known := map[string]bool{}
	for _, row := range rows {
		known[row.ID] = true
		n, gone, bad := d.batch(row)
		switch {
		case bad != "":
			d.report.Add(evidence.NotMet, what, "batch %s: %s", row.ID, bad)
		case gone != "":
			d.report.Add(evidence.NotMeasured, what, "batch %s: %s; its clocks stand as they were stated and cannot be computed anew", row.ID, gone)
		default:
			d.report.Add(evidence.Met, what, "batch %s: %d clocks come out of the stored readings as they are stated", row.ID, n)
		}
		if ctx.Err() != nil {
			return
		}
	}
	d.unknown(known, through)
}

// batch computes one anew; gone says that there is nothing left to compute it from.
func (d *database) batch(row store.BatchRow) (clocks int, gone, bad string) {
	b := new(process.Batch)
	if err := json.Unmarshal(row.State, b); err != nil {
		return 0, "", "what is stored of it cannot be read"
	}
	if b.ID != row.ID || b.Open() != (row.Status == "open") || !b.Started.Equal(row.Started) {
		return 0, "", "it is filed under another name, begin or end"
	}
	if gone := d.gone(b); gone != "" && !b.Open() {
		return 0, gone, ""
	}
	fresh, err := guarded(d.db, row.ID, row.Cursor, b.Now)
	if err != nil {
		return 0, "", err.Error()
	}
	if bad := sameSaid(b, fresh); bad != "" {
		return 0, "", bad
	}
	stated := b.Clocks(b.Now)
	return len(stated), "", sameClocks(stated, fresh.Clocks(b.Now))
}
