package app

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"flitch/cmd/flitch/internal/api"
	"flitch/cmd/flitch/internal/config"
	"flitch/cmd/flitch/internal/signin"
	"flitch/ingest/signal"
	"flitch/process"
	"flitch/process/engine"
	"flitch/store"
)

// An importer takes the readings of a stand-alone logger, past the intake: nothing was
// heard by them, and their times are a person's word.
type importer struct{ app *App }

// ImportRows implements api.Importer. The rows are on disk when it returns.
func (i importer) ImportRows(ctx context.Context, rows api.ImportRows) (api.Imported, error) {
	probe, _, err := i.probe(ctx, rows.Probe, rows.By)
	if err != nil {
		return api.Imported{}, err
	}
	if len(rows.Rows) > api.MostRows {
		return api.Imported{}, &process.Refusal{What: fmt.Sprintf("%d rows at once", len(rows.Rows)), Hint: fmt.Sprintf("send at most %d", api.MostRows)}
	}
	now := i.app.clock.Now().UTC().Truncate(time.Millisecond)
	done := api.Imported{Refused: []api.RefusedRow{}}
	readings := make([]process.Reading, 0, len(rows.Rows))
	of := make([]int, 0, len(rows.Rows)) // the row of each reading
	for n, row := range rows.Rows {
		r, why := imported(probe, row, now)
		if why != "" {
			done.Refused = append(done.Refused, api.RefusedRow{Row: n, Why: why})
			continue
		}
		if r.Quality == process.Bad {
			done.Bad++
		}
		readings, of = append(readings, r), append(of, n)
	}
	stored, err := i.app.db.CommitIntake(readings, nil)
	if err != nil {
		return api.Imported{}, i.app.notEntered(fmt.Errorf("%w: %w", engine.ErrNotStored, err))
	}
	i.app.engine.Wake()
	done.Stored, done.Known = stored.Stored, stored.Duplicates
	if stored.Duplicates > 0 {
		err = i.compare(readings, of, &done)
	}
	return done, err
}

// probe finds the probe, and who signs: whoever has signed in, if anybody has to.
func (i importer) probe(ctx context.Context, name, by string) (p config.Probe, signed string, err error) {
	if err := signin.May(ctx, signin.Curer); err != nil {
		return p, "", err
	}
	if signed, err = signin.Sign(ctx, by); err != nil {
		return p, "", err
	}
	if err := process.CheckSignature(signed); err != nil {
		return p, "", err
	}
	var names []string
	for _, p := range i.app.cfg.Probes {
		if p.Name == name {
			return p, signed, nil
		}
		names = append(names, p.Name)
	}
	return p, "", &process.Refusal{What: fmt.Sprintf("there is no probe %q", name), Hint: "one of " + strings.Join(names, ", ") + "; a new one is a [[probe]] in the configuration"}
}

// years in which a reading can have been, ms since 1970.
var yearsEnd = float64(time.Date(2200, 1, 1, 0, 0, 0, 0, time.UTC).UnixMilli())

// imported is one row as a reading, or why it cannot be one.
func imported(p config.Probe, row [2]float64, now time.Time) (r process.Reading, why string) {
	if ms := row[0]; ms != math.Trunc(ms) || ms < 0 || ms >= yearsEnd {
		return r, fmt.Sprintf("%g is no time in milliseconds since 1970", ms)
	}
	r = process.Reading{Probe: p.Name, Measured: time.UnixMilli(int64(row[0])).UTC(), Received: now, Value: row[1], Quality: process.Suspect, Reason: process.Imported}
	if r.Measured.After(now) {
		return r, fmt.Sprintf("%s has not been yet: look at the zone and at the clock of the logger", r.Measured.Format(time.RFC3339))
	}
	// What the probe's messages say for "no value" is not what a file says; the codes that
	// every sensor of a kind gives are known.
	if reason, ok := signal.Check(r.Value, string(p.Measures)); !ok {
		r.Quality, r.Reason = process.Bad, process.Imported+"; "+reason
	}
	return r, ""
}

// sameValue is how far two readings of one moment may differ and be one, in the unit of
// the reading: less than any logger writes.
const sameValue = 1e-6

// compare finds the rows whose moment has another value on disk: what came first stands.
func (i importer) compare(readings []process.Reading, of []int, done *api.Imported) error {
	from, to := readings[0].Measured, readings[0].Measured
	for _, r := range readings {
		if r.Measured.Before(from) {
			from = r.Measured
		}
		if r.Measured.After(to) {
			to = r.Measured
		}
	}
	stands := make(map[int64]process.Reading, len(readings))
	for _, r := range readings {
		stands[r.Measured.UnixMilli()] = process.Reading{}
	}
	err := i.app.db.EachReading([]string{readings[0].Probe}, from, to.Add(time.Millisecond), func(_ int64, r process.Reading) error {
		if _, wanted := stands[r.Measured.UnixMilli()]; wanted {
			stands[r.Measured.UnixMilli()] = r
		}
		return nil
	})
	for n, r := range readings {
		other := stands[r.Measured.UnixMilli()]
		if err == nil && math.Abs(other.Value-r.Value) > sameValue {
			done.Known--
			done.Refused = append(done.Refused, api.RefusedRow{Row: of[n], Why: fmt.Sprintf("at %s there is another reading, %.4g, and it stands", r.Measured.Format(time.RFC3339Nano), other.Value)})
		}
	}
	slices.SortFunc(done.Refused, func(a, b api.RefusedRow) int { return a.Row - b.Row })
	return err
}

// ImportDone implements api.Importer: each open batch that the readings belong to gets a
// note, once for each file.
func (i importer) ImportDone(ctx context.Context, d api.ImportDone) (api.Noted, error) {
	noted := api.Noted{Open: []string{}, Closed: []string{}}
	_, by, err := i.probe(ctx, d.Probe, d.By)
	if err != nil {
		return noted, err
	}
	d.By = by
	err = i.app.db.EachBatch(batchClosed, func(row store.BatchRow) error {
		b := new(process.Batch)
		if err := json.Unmarshal(row.State, b); err != nil {
			return fmt.Errorf("stored batch %s: %w", row.ID, err)
		}
		if b.Uses(d.Probe) && d.From.Before(b.Closed) && d.To.After(b.Started) {
			noted.Closed = append(noted.Closed, b.ID)
		}
		return nil
	})
	if err != nil {
		return noted, err
	}
	for _, b := range i.app.engine.Batches() {
		if !b.Wants(d.Probe, d.To) {
			continue
		}
		if err := i.note(ctx, b.ID, d); err != nil {
			return noted, err
		}
		noted.Open = append(noted.Open, b.ID)
	}
	return noted, nil
}

// note signs the import. Its identity is that of the file: it is told once, however often
// the file is brought.
func (i importer) note(ctx context.Context, batch string, d api.ImportDone) error {
	sum := sha256.Sum256([]byte(strings.Join([]string{"import", batch, d.Probe, d.SHA256}, "\x00")))
	zone := i.app.cfg.Site.Zone
	text := fmt.Sprintf("imported %d readings of %s, %s to %s, from %s (SHA-256 %s)", d.Rows, d.Probe,
		d.From.In(zone).Format("2 Jan 2006 15:04"), d.To.In(zone).Format("2 Jan 2006 15:04 MST"), d.File, d.SHA256)
	c := process.Command{ID: hex.EncodeToString(sum[:]), Kind: process.CommandNote, Batch: batch, By: d.By, Text: text}
	if err := process.CheckWording(c); err != nil { // the name of the file came from outside
		return err
	}
	err := i.app.notEntered(i.app.engine.Do(ctx, c))
	if refusal, ok := errors.AsType[*process.Refusal](err); ok && refusal.NotFound {
		return nil // closed a moment ago
	}
	return err
}
