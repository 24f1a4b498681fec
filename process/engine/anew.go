package engine

import (
	"fmt"
	"slices"
	"time"

	"flitch/process"
)

// A Log is what a batch can be computed anew from, wherever it is kept.
type Log interface {
	// Commands returns what was said about a batch, in order of the log; about the house,
	// if batch is empty.
	Commands(batch string) ([]process.Input, error)
	// EachReading walks readings by the time they hold for, then by number.
	EachReading(probes []string, from, to time.Time, fn func(seq int64, r process.Reading) error) error
}

// Anew computes a batch from its whole history as far as the number, as the engine does
// after something came late. now is the moment its clocks speak of.
func Anew(log Log, batch string, through int64, now time.Time) (*process.Batch, error) {
	said, err := log.Commands(batch)
	if err != nil {
		return nil, err
	}
	if len(said) == 0 || said[0].Command.Kind != process.CommandNew || said[0].Command.New == nil || len(said[0].Command.New.Plan.Stages) == 0 {
		return nil, fmt.Errorf("nothing says that batch %s was begun", batch)
	}
	if said[0].Seq > through {
		return nil, fmt.Errorf("batch %s was begun at number %d, after number %d", batch, said[0].Seq, through)
	}
	b := process.Start(said[0])
	b.Now = now
	fresh, err := foldUpTo(log, b, through, through)
	if err != nil {
		return nil, err
	}
	if closed := closedBy(said, fresh); closed > 0 && closed < through {
		fresh, err = foldUpTo(log, b, through, closed)
	}
	if err == nil && now.After(fresh.Now) {
		fresh.Now = now
	}
	return fresh, err
}

// closedBy is the number of the command that closed the batch; 0: it is open. A reading that
// came in later found it closed, however long ago it was measured.
func closedBy(said []process.Input, b *process.Batch) (seq int64) {
	for _, in := range said {
		if !b.Open() && in.Command.Kind == process.CommandClose && in.Command.At.Equal(b.Closed) {
			seq = in.Seq
		}
	}
	return seq
}

// foldUpTo computes a batch anew from what was said up to one number and measured up to another.
func foldUpTo(log Log, b *process.Batch, said, measured int64) (*process.Batch, error) {
	e := &Engine{Config: Config{Store: onlyLog{Log: log, measured: measured}}, cursor: said}
	return e.again(b, true)
}

// onlyLog is a store of which nothing but the log is asked, readings up to a number.
type onlyLog struct {
	Store
	Log
	measured int64
}

// Commands implements Store.
func (l onlyLog) Commands(batch string) ([]process.Input, error) { return l.Log.Commands(batch) }

// EachReading implements Store. Of two readings of a probe for one moment the later number is in
// force: the first was removed by the owner's rule before the other was imported, and only a fleet
// still has it.
func (l onlyLog) EachReading(probes []string, from, to time.Time, fn func(int64, process.Reading) error) error {
	var moment []process.Input // its readings, by number
	give := func() (err error) {
		for i := 0; i < len(moment) && err == nil; i++ {
			err = fn(moment[i].Seq, moment[i].Reading)
		}
		moment = moment[:0]
		return err
	}
	err := l.Log.EachReading(probes, from, to, func(seq int64, r process.Reading) (err error) {
		if seq > l.measured {
			return nil
		}
		if len(moment) > 0 && !moment[0].Reading.Measured.Equal(r.Measured) {
			err = give()
		}
		moment = slices.DeleteFunc(moment, func(in process.Input) bool { return in.Reading.Probe == r.Probe })
		moment = append(moment, process.Input{Seq: seq, Reading: r})
		return err
	})
	if err != nil {
		return err
	}
	return give()
}
