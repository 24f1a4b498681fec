package app

import (
	"context"
	"crypto/ed25519"
	"fmt"
	"sync"
	"time"

	"flitch/process"
	"flitch/process/engine"
	"flitch/process/evidence"
	"flitch/store"
)

// How much of the log waits for its seal at most, and how much one seal is over. Proposals:
// what was cut off or put in within ten minutes is found by nobody; a line of the journal
// every ten minutes is 5 MB a year.
const (
	sealEvery = 10 * time.Minute
	sealRows  = 50_000
)

// A sealDesk puts seals over the input log, and signs them.
type sealDesk struct {
	db    *store.DB
	now   func() time.Time
	soon  chan struct{} // a batch was closed
	mu    sync.Mutex    // held while sealing
	key   ed25519.PrivateKey
	why   string // why there is no key; empty: there is
	wrong string // what a person has to know of the key while this daemon runs; empty: nothing
	first string // what the journal is to say of the key before the next seal; empty: nothing
}

// buildSeals reads the key. That it is missing or wrong stops nothing: the watch goes on, the
// seals say that they are not signed, and a person is told.
func (a *App) buildSeals() error {
	d := &sealDesk{db: a.db, now: a.clock.Now, soon: make(chan struct{}, 1)}
	a.seals = d
	d.wake() // what came in before a crash, or before there were seals
	last, signed, err := a.db.LastSignature()
	if err != nil {
		return err
	}
	key, fresh, err := loadRecordKey(a.cfg.Site.Database)
	if err != nil {
		a.log.Error("the record is not signed", "err", err)
		d.why, d.wrong = "the key could not be read", err.Error()
		a.faults.Set(engine.FaultRecord, d.wrong)
		return nil
	}
	d.key = key
	name := evidence.Fingerprint(d.public())
	switch {
	case !signed:
		d.first = "signed by key " + name + " from here on"
	case !last.Key.Equal(d.public()):
		d.first = fmt.Sprintf("signed by another key from here on: %s; before by %s", name, evidence.Fingerprint(last.Key))
		how := "is another one than before"
		if fresh {
			how = "was missing, and a new one was made"
		}
		d.wrong = fmt.Sprintf("the key of the record, %s, %s: the record is %s", KeyFile(a.cfg.Site.Database), how, d.first)
		a.log.Warn(d.wrong)
		a.faults.Set(engine.FaultRecord, d.wrong)
	}
	return nil
}

func (d *sealDesk) public() ed25519.PublicKey { return d.key.Public().(ed25519.PublicKey) }

// RecordKey returns the fingerprint of the key that signs the record; empty: none does.
func (a *App) RecordKey() string {
	if a.seals.key == nil {
		return ""
	}
	return evidence.Fingerprint(a.seals.public())
}

// wake asks for a seal soon. It never blocks.
func (d *sealDesk) wake() {
	select {
	case d.soon <- struct{}{}:
	default:
	}
}

// sealing seals what has come in, every ten minutes and when a batch was closed, and a last
// time when ctx ends.
func (a *App) sealing(ctx context.Context) error {
	for {
		select {
		case <-ctx.Done():
			late, cancel := context.WithTimeout(context.WithoutCancel(ctx), stopWithin)
			defer cancel()
			if err := a.seals.seal(late); err != nil {
				a.log.Error("the end of the log was not sealed", "err", err)
			}
			return nil
		case <-a.clock.After(sealEvery):
		case <-a.seals.soon:
		}
		switch err := a.seals.seal(ctx); {
		case ctx.Err() != nil:
		case err != nil:
			a.log.Error("the log was not sealed", "err", err)
			a.faults.Set(engine.FaultRecord, "readings and entries are not sealed: "+err.Error())
		case a.seals.wrong != "":
			a.faults.Set(engine.FaultRecord, a.seals.wrong)
		default:
			a.recovered(engine.FaultRecord)
		}
	}
}

// seal puts seals over all that is in the log.
func (d *sealDesk) seal(ctx context.Context) error {
	d.mu.Lock()
	defer d.mu.Unlock()
	last, _, err := d.db.LastSeal()
	if err != nil {
		return err
	}
	for from := last.Seal.To + 1; ; {
		var rows evidence.Sealer // of what nobody changes any more
		to, err := d.db.EachNext(ctx, from-1, sealRows, func(r *evidence.Row) error { rows.Take(r); return nil })
		if err != nil || to == 0 {
			return err
		}
		if err := d.write(rows.Seal(from, to)); err != nil {
			return err
		}
		from = to + 1
	}
}

// write writes one line.
func (d *sealDesk) write(seal evidence.Seal) error {
	seal.Unsigned = d.why
	at := d.now().UTC().Truncate(time.Millisecond)
	err := d.db.Update(func(tx *store.Tx) error {
		if d.first != "" {
			if err := tx.AppendJournal(process.JournalLine{At: at, Kind: evidence.KeyKind, By: "flitch", Text: d.first}); err != nil {
				return err
			}
		}
		_, err := tx.AppendSigned(process.JournalLine{At: at, Kind: evidence.SealKind, By: "flitch", Text: seal.Text()}, d.signer())
		return err
	})
	if err == nil {
		d.first = ""
	}
	return err
}

// signer signs with the key; nil without one.
func (d *sealDesk) signer() func(int64, string, int64) evidence.Signature {
	if d.key == nil {
		return nil
	}
	return func(line int64, hash string, at int64) evidence.Signature {
		return evidence.Sign(d.key, line, hash, at)
	}
}
