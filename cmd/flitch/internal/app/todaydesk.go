package app

import (
	"sync"
	"time"

	"flitch/cmd/flitch/internal/web"
	"flitch/process"
	"flitch/process/record"
	"flitch/store"
)

// todayHolds is how long the sum of a day stands before it is read anew: a day of readings
// at five seconds is 17,280 rows. (proposal)
const todayHolds = time.Minute

// A todayDesk keeps how long each fridge was too warm today. It is read from the stored
// readings, so that late ones count, and is no state: lost, it is read again.
type todayDesk struct {
	mu   sync.Mutex
	kept map[string]keptToday
}

type keptToday struct {
	asked time.Time
	today *web.Today
}

// above returns what tells of the probes of a batch how long they were above a line since
// midnight on the wall. What cannot be read is not known.
func (d *todayDesk) above(db *store.DB, b *process.Batch, places []*process.Place, now time.Time, site record.Site) func(*process.Track, float64) *web.Today {
	return func(t *process.Track, aboveC float64) *web.Today {
		d.mu.Lock()
		defer d.mu.Unlock()
		key := b.ID + "\x00" + t.Probe.Probe
		if k, ok := d.kept[key]; ok && !now.Before(k.asked) && now.Sub(k.asked) < todayHolds {
			return k.today
		}
		local := site.Local(now)
		midnight := time.Date(local.Year(), local.Month(), local.Day(), 0, 0, 0, 0, local.Location())
		list := flagged(b, t, places, now)
		r := process.Readings{Spacing: t.Probe.Allowed()}
		// The day before tells what the line to the first reading of today comes from.
		err := db.EachReading([]string{t.Probe.Probe}, midnight.Add(-time.Hour), now.Add(time.Millisecond), func(_ int64, m process.Reading) error {
			if row := counted(t, list, m); row.Quality != process.Bad {
				r.Samples = append(r.Samples, process.Sample{At: row.Measured, Value: row.Value})
			}
			return nil
		})
		var out *web.Today
		if err == nil && len(r.Samples) > 0 {
			sum := r.AboveSince(midnight, aboveC)
			out = &web.Today{AboveMin: sum.Minutes, BlindMin: sum.Blind}
		}
		if d.kept == nil || len(d.kept) > 100 {
			d.kept = map[string]keptToday{}
		}
		d.kept[key] = keptToday{now, out}
		return out
	}
}
