package engine

import (
	"time"

	"flitch/alerts"
	"flitch/process"
)

// A Store is what the engine needs of the database.
type Store interface {
	// NextInputs returns up to max inputs after the given number, in order.
	NextInputs(after int64, max int) ([]process.Input, error)
	// EachReading walks readings by the time they hold for.
	EachReading(probes []string, from, to time.Time, fn func(seq int64, r process.Reading) error) error
	// Commands returns what people said about a batch, in order of the log.
	Commands(batch string) ([]process.Input, error)
	// HasCommand reports whether a command with the ID is in the log.
	HasCommand(id string) (bool, error)
	// StoredBatch returns a batch as it was last written, open or closed; false when none of
	// that name was ever started.
	StoredBatch(id string) (row BatchRow, found bool, err error)
	// Load returns what was written by the last transaction.
	Load() (Saved, error)
	// Update runs one transaction.
	Update(fn func(Tx) error) error
}

// A Tx is one transaction of the store.
type Tx interface {
	AppendCommand(c process.Command, at time.Time) (seq int64, fresh bool, err error)
	AppendTick(at time.Time) (seq int64, err error)
	SavePhoto(jpeg []byte, at time.Time) error
	SaveBatch(BatchRow) error
	SavePlace(name string, cursor int64, state []byte) error
	SaveAlarm(key string, state []byte) error
	SaveOccurrence(alerts.Occurrence) error
	Enqueue(alerts.Message) error
	AppendJournal(process.JournalLine) error
}

// A BatchRow is a batch as it is stored.
type BatchRow struct {
	ID      string
	Open    bool
	Started time.Time
	Cursor  int64 // last input it has seen
	State   []byte
}

// A PlaceRow is a place as it is stored.
type PlaceRow struct {
	Name   string
	Cursor int64
	State  []byte
}

// Saved is the state of the engine as the last transaction left it.
type Saved struct {
	Batches     []BatchRow // open ones
	Places      []PlaceRow
	Alarms      map[string][]byte
	AlarmNumber int64 // highest number given out
}

// A Clock tells the time and wakes.
type Clock interface {
	Now() time.Time
	After(d time.Duration) <-chan time.Time
}

// An Observer counts what the engine does.
type Observer interface {
	Evaluated(inputs int, lag time.Duration) // lag of the oldest of them behind the clock
	Alarms(counts map[AlarmCount]int)
	EngineFault(err error) // nil when it is over
}

// AlarmCount names one group of alarms for counting.
type AlarmCount struct {
	Level alerts.Level
	State string // "pending", "active", "acknowledged", "clearing"
}
