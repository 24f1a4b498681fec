package app

import (
	"context"
	"encoding/json"
	"fmt"
	"math"
	"slices"
	"time"

	"flitch/process"
	"flitch/store"
)

const (
	// removeEvery is how often it is looked for readings that are too old.
	removeEvery = 24 * time.Hour
	// steadySeals is for how many seals the clock has to have gone on before it is believed, and
	// steadyFor for how long by itself: a week of running, of which each tells little alone. Many
	// seals are made at once over what waited long, and a clock that is set to another year is a
	// year further. Such a clock so removes nothing before somebody was called. Proposals.
	steadySeals = 1000
	steadyFor   = 5 * 24 * time.Hour
	// aroundBatch is kept before a batch began and after it was closed. Proposal, and generous:
	// its clocks look at an hour.
	aroundBatch = 24 * time.Hour
)

// removeOld removes what the owner's rule does not keep. Without a rule, which is the default, nothing.
func (a *App) removeOld(ctx context.Context) error {
	if a.cfg.Store.KeepReadings == 0 {
		return nil
	}
	now, found, err := a.steadyNow()
	if err != nil || !found {
		return err
	}
	rule, err := a.keepRule(now)
	if err != nil {
		return err
	}
	due, err := a.db.Due(rule)
	for _, d := range due {
		if err != nil || ctx.Err() != nil {
			return err
		}
		began := time.Now()
		removed, failed := a.db.Remove(ctx, d, rule, a.clock.Now().UTC().Truncate(time.Millisecond))
		if err = failed; err == nil {
			a.log.Info("readings removed", "what", removed.Text(), "by", rule.Words, "line", removed.Line)
			rest(ctx, time.Since(began))
		}
	}
	return err
}

// steadyNow is the time that it is by now at least, by a clock that went on long enough; false: none did.
func (a *App) steadyNow() (now time.Time, found bool, err error) {
	newest, found, err := a.db.SealedAt(0)
	if err != nil || !found {
		return now, false, err
	}
	byCount, counted, err := a.db.SealedAt(steadySeals)
	if err != nil || !counted {
		return now, false, err
	}
	byTime, lasted, err := a.db.SealedBefore(newest.Add(-steadyFor))
	if err != nil || !lasted {
		return now, false, err
	}
	return slices.MinFunc([]time.Time{byCount, byTime, a.clock.Now()}, time.Time.Compare), true, nil
}

// keepRule is the rule as of a moment, with what each batch needs.
func (a *App) keepRule(now time.Time) (store.KeepRule, error) {
	keep := a.cfg.Store
	rule := store.KeepRule{Before: now.Add(-keep.KeepReadings), Words: fmt.Sprintf("the rule keep_readings %s, keep_batches %s", inDays(keep.KeepReadings), inDays(keep.KeepBatches))}
	heads, err := a.db.BatchHeads()
	if err != nil {
		return rule, err
	}
	for _, head := range heads { // one at a time: each may be 100 KB
		row, _, err := a.db.Batch(head.ID)
		b := new(process.Batch)
		if err == nil {
			err = json.Unmarshal(row.State, b)
		}
		if err != nil {
			return rule, fmt.Errorf("batch %s: what is stored of it cannot be read, and nothing is removed: %w", head.ID, err)
		}
		if !b.Open() && keep.KeepBatches > 0 && b.Closed.Add(keep.KeepBatches).Before(now) {
			continue
		}
		kept, err := a.keptFor(b)
		if err != nil {
			return rule, fmt.Errorf("batch %s: what it needs cannot be found out, and nothing is removed: %w", head.ID, err)
		}
		rule.Kept = append(rule.Kept, kept...)
	}
	return rule, nil
}

// keptFor is what stays because of a batch: of its probes, and of all that are in its places now.
func (a *App) keptFor(b *process.Batch) (all []store.Kept, err error) {
	names := map[string]bool{}
	for _, t := range b.Tracks {
		names[t.Probe.Probe] = true
		for _, p := range a.cfg.Probes {
			if p.Place == t.Probe.Place {
				names[p.Name] = true
			}
		}
	}
	k := store.Kept{From: b.Started.Add(-aroundBatch), LastSeq: math.MaxInt64}
	cover, err := (&reader{app: a}).coverOf(b)
	switch {
	case err != nil:
		return nil, err
	case len(cover.seals) == 0: // all of the log
	case b.Open():
		k.FirstSeq = cover.seals[0].Seal.From
	default:
		k.FirstSeq, k.LastSeq = cover.seals[0].Seal.From, cover.last().Seal.To
	}
	if !b.Open() {
		k.To = b.Closed.Add(aroundBatch)
	}
	for name := range names {
		k.Probe = name
		all = append(all, k)
	}
	return all, nil
}

func inDays(d time.Duration) string {
	if d == 0 {
		return "for ever"
	}
	return fmt.Sprintf("%d days", d/(24*time.Hour))
}
