package app

import (
	"flitch/alerts"
	"flitch/cmd/flitch/internal/api"
	"flitch/ingest"
	"flitch/ingest/decode"
	"flitch/process"
	"flitch/process/engine"
	"flitch/store"
)

// batchOpen and batchClosed are the stored words for the state of a batch.
const (
	batchOpen   = "open"
	batchClosed = "closed"
)

// intakeStore lends the database to the intake.
type intakeStore struct {
	*store.DB
	metrics *api.Metrics
	heard   func(stored int)
}

// CommitIntake implements ingest.Store.
func (s intakeStore) CommitIntake(r []process.Reading, rejected []decode.Rejection) (ingest.Committed, error) {
	done, err := s.DB.CommitIntake(r, rejected)
	if err == nil {
		s.metrics.Heard(r)
		s.heard(done.Stored)
	}
	return ingest.Committed{Stored: done.Stored, Duplicates: done.Duplicates, LastSeq: done.LastSeq}, err
}

// engineStore lends the database to the engine.
type engineStore struct {
	*store.DB
	enqueue func(*store.Tx, alerts.Message) error
	closed  func() // called after a batch was stored that is closed; nil: nobody asks
}

// StoredBatch implements engine.Store.
func (s engineStore) StoredBatch(id string) (engine.BatchRow, bool, error) {
	b, found, err := s.DB.Batch(id)
	return batchRow(b), found, err
}

func batchRow(b store.BatchRow) engine.BatchRow {
	return engine.BatchRow{ID: b.ID, Open: b.Status == batchOpen, Started: b.Started, Cursor: b.Cursor, State: b.State}
}

// Load implements engine.Store.
func (s engineStore) Load() (engine.Saved, error) {
	var saved engine.Saved
	err := s.DB.EachBatch(batchOpen, func(b store.BatchRow) error {
		saved.Batches = append(saved.Batches, batchRow(b))
		return nil
	})
	if err != nil {
		return saved, err
	}
	places, err := s.DB.Places()
	if err != nil {
		return saved, err
	}
	for _, p := range places {
		saved.Places = append(saved.Places, engine.PlaceRow(p))
	}
	if saved.Alarms, err = s.DB.Alarms(); err != nil {
		return saved, err
	}
	saved.AlarmNumber, err = s.DB.LastAlarmNumber()
	return saved, err
}

// Update implements engine.Store.
func (s engineStore) Update(fn func(engine.Tx) error) error {
	closed := false
	err := s.DB.Update(func(tx *store.Tx) error { return fn(engineTx{tx, s.enqueue, &closed}) })
	if err == nil && closed && s.closed != nil {
		s.closed()
	}
	return err
}

type engineTx struct {
	*store.Tx
	enqueue func(*store.Tx, alerts.Message) error
	closed  *bool // set when a batch is stored that is closed
}

// SaveBatch implements engine.Tx.
func (t engineTx) SaveBatch(b engine.BatchRow) error {
	status := batchClosed
	if b.Open {
		status = batchOpen
	}
	*t.closed = *t.closed || !b.Open
	return t.Tx.SaveBatch(store.BatchRow{ID: b.ID, Status: status, Started: b.Started, Cursor: b.Cursor, State: b.State})
}

// Enqueue implements engine.Tx.
func (t engineTx) Enqueue(m alerts.Message) error { return t.enqueue(t.Tx, m) }
