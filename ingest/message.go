package ingest

import (
	"context"
	"log/slog"
	"time"

	"flitch/ingest/decode"
	"flitch/process"
)

// A Message is one publication as a source received it.
type Message struct {
	Topic    string
	Payload  []byte    // not changed, and kept until acknowledged
	Retained bool      // a copy the broker had kept, of unknown age
	Received time.Time // zero: the moment of Submit
	// Ack is called once, in the order of Submit, after the message is on disk. It
	// must not block: a source with a slow peer queues by itself. Nil is allowed.
	Ack func()
}

// A Submitter takes messages. Submit returns nil when the message is in the
// queue, which says nothing about the disk; a message that was not taken is never
// acknowledged.
type Submitter interface {
	Submit(ctx context.Context, m Message) error
	Reads(topic string) bool
}

// Committed says what one transaction did.
type Committed struct {
	Stored     int   // readings that are new
	Duplicates int   // readings whose probe and time measured were known
	LastSeq    int64 // highest number in the input log
}

// A Store is what the intake needs of the database.
type Store interface {
	// CommitIntake stores all of it, or nothing and returns an error.
	CommitIntake(readings []process.Reading, rejected []decode.Rejection) (Committed, error)
	HasReading(probe string, measured time.Time) (bool, error)
	NewestDeviceTimes() (map[string]time.Time, error)
	LatestReadings() (map[string]process.Reading, error)
}

// A Clock tells the time and waits.
type Clock interface {
	Now() time.Time
	After(d time.Duration) <-chan time.Time
}

// An Observer counts. All methods are called from the intake's own goroutine and
// must be quick.
type Observer interface {
	Stored(n int)                 // readings on disk
	Duplicate(n int)              // readings that were known already
	Rejected(class string)        // a value that could not be used
	Unmapped()                    // a message on a topic that no mapping reads
	Committed(took time.Duration) // one transaction, waiting for a failing store included
	Doubtful(q process.Quality)   // a reading that is suspect or bad
	StoreFailed()                 // one try that failed
}

// Options tune an intake. The zero value is fine.
type Options struct {
	// Linger is how long a batch waits for company. 0, the default, is best for
	// latency; on flash memory 1-5 s saves wear, and acknowledgements wait with it.
	Linger time.Duration
	// MaxBatch bounds the messages of one transaction; 0 is 1000.
	MaxBatch int
	// Queue bounds the messages that wait; 0 is two batches.
	Queue int
	// StopWithin bounds how long Run goes on trying to store after its context
	// ended; 0 is 10 s.
	StopWithin time.Duration
	// Notify is called after each transaction with the highest number in the log.
	Notify func(lastSeq int64)
	// Vital is called, after each transaction, with what sensors told of themselves.
	Vital func(v Vital)
	// Said is called, after each transaction and before it is acknowledged, with what
	// devices told of themselves.
	Said func(s Said)
	// Call is called to send a message to a device. It must not block.
	Call func(c Call)
	// Witness is called, before a message gets the time of its arrival, with what the clock
	// of a sensor shows in it: the time of a reading that was not kept anywhere.
	Witness func(probe string, shows time.Time)
	// Fault is called with an error when the store starts to fail or fails in
	// another way, and with nil when it works again.
	Fault func(err error)
	// Heard is called with readings that were stored, and with those that the store does
	// not take now. It must be quick.
	Heard listener
	// Gap is called once the store works again and what was held is on disk.
	Gap     func(Gap)
	Log     *slog.Logger
	Observe Observer
}

func (o Options) withDefaults() Options {
	if o.MaxBatch <= 0 {
		o.MaxBatch = 1000
	}
	if o.Queue <= 0 {
		o.Queue = 2 * o.MaxBatch
	}
	if o.StopWithin <= 0 {
		o.StopWithin = 10 * time.Second
	}
	if o.Notify == nil {
		o.Notify = func(int64) {}
	}
	if o.Witness == nil {
		o.Witness = func(string, time.Time) {}
	}
	if o.Vital == nil {
		o.Vital = func(Vital) {}
	}
	if o.Said == nil {
		o.Said = func(Said) {}
	}
	if o.Call == nil {
		o.Call = func(Call) {}
	}
	if o.Fault == nil {
		o.Fault = func(error) {}
	}
	if o.Heard == nil {
		o.Heard = func([]process.Reading, bool) {}
	}
	if o.Gap == nil {
		o.Gap = func(Gap) {}
	}
	if o.Log == nil {
		o.Log = slog.New(slog.DiscardHandler)
	}
	if o.Observe == nil {
		o.Observe = deaf{}
	}
	return o
}

// deaf is the Observer of those who count nothing.
type deaf struct{}

func (deaf) Stored(int)               {}
func (deaf) Duplicate(int)            {}
func (deaf) Rejected(string)          {}
func (deaf) Unmapped()                {}
func (deaf) Committed(time.Duration)  {}
func (deaf) Doubtful(process.Quality) {}
func (deaf) StoreFailed()             {}
