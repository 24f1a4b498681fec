package engine

import (
	"fmt"
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
	e := &Engine{Config: Config{Store: onlyLog{Log: log}}, cursor: through}
	fresh, err := e.again(b, true)
	if err != nil {
		return nil, err
	}
	if now.After(fresh.Now) {
		fresh.Now = now
	}
	return fresh, nil
}

// onlyLog is a store of which nothing but the log is asked.
type onlyLog struct {
	Store
	Log
}

// Commands implements Store.
func (l onlyLog) Commands(batch string) ([]process.Input, error) { return l.Log.Commands(batch) }

// EachReading implements Store.
func (l onlyLog) EachReading(probes []string, from, to time.Time, fn func(int64, process.Reading) error) error {
	return l.Log.EachReading(probes, from, to, fn)
}
