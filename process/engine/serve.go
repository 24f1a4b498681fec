package engine

import (
	"fmt"
	"time"

	"flitch/process"
)

// serve takes one command from a person: check, append to the log, evaluate.
func (e *Engine) serve(c process.Command, photo []byte) error {
	c.Typed = e.Clock.Now().UTC().Truncate(time.Millisecond) // what the database keeps
	if c.At.IsZero() {
		c.At = e.happened(c)
	}
	c.At = c.At.UTC().Truncate(time.Millisecond)
	known, err := e.known(c.ID)
	if err != nil || known {
		return err
	}
	taken, err := e.stored(c)
	if err != nil {
		return err
	}
	if err := e.check(c, taken); err != nil {
		return err
	}
	c = e.whole(c)
	if err := e.Store.Update(func(tx Tx) error {
		if _, _, err := tx.AppendCommand(c, c.Typed); err != nil || photo == nil {
			return err
		}
		return tx.SavePhoto(photo, c.Typed)
	}); err != nil {
		return fmt.Errorf("%w: %w", ErrNotStored, err)
	}
	return e.catchUp()
}

// happened is when something happened of which nobody named the time: now, or for a
// correction when what it corrects did.
func (e *Engine) happened(c process.Command) time.Time {
	e.mu.Lock()
	defer e.mu.Unlock()
	if b := e.house.batch(c.Batch); b != nil && c.Kind != process.CommandStruck {
		if old, ok := b.Entered(c.Strikes); ok && c.Strikes != "" {
			return old.At
		}
	}
	return c.Typed
}

// known reports whether a command with the ID is already in the log: the answer
// to it was lost, and it was sent again.
func (e *Engine) known(id string) (bool, error) {
	if id == "" {
		return false, &process.Refusal{What: "the command has no id", Hint: "give each command its own random id"}
	}
	return e.Store.HasCommand(id)
}

// check refuses what cannot be done. taken tells whether a batch of that name was
// ever started.
func (e *Engine) check(c process.Command, taken bool) error {
	e.mu.Lock()
	defer e.mu.Unlock()
	if signed(c.Kind) && !e.house.knows(c) {
		return Stranger(e.house.policy, c.By)
	}
	switch c.Kind {
	case process.CommandAcknowledge:
		return e.checkAcknowledge(c)
	case process.CommandStruck:
		if found, err := e.house.checkBack(c); found {
			return err
		}
	case process.CommandNew:
		return e.checkNew(c, taken)
	case process.CommandFault, process.CommandVital, process.CommandSensor:
		return nil
	case process.CommandChecked:
		return e.house.checkProbe(c)
	case process.CommandUnit:
		return e.house.checkUnit(c)
	case process.CommandDuty, process.CommandShelve, process.CommandOut, process.CommandJudge:
		return e.house.checkPeople(c)
	}
	b := e.house.batch(c.Batch)
	if b == nil {
		b = e.house.closed[c.Batch]
	}
	if b == nil {
		return unknown(c.Batch)
	}
	return e.house.checkPapers(b, c, e.ReviewerDiffers)
}

// whole is a command that was checked, with what only the house knows filled in.
func (e *Engine) whole(c process.Command) process.Command {
	e.mu.Lock()
	defer e.mu.Unlock()
	return e.house.Complete(c)
}

func (e *Engine) checkNew(c process.Command, taken bool) error {
	if taken || e.house.batch(c.Batch) != nil {
		return &process.Refusal{What: fmt.Sprintf("there is already a batch %s", c.Batch), Hint: "give this one another name: --id"}
	}
	if err := process.Check(nil, c, c.Typed); err != nil {
		return err
	}
	return e.house.checkChanges(c.New.Plan)
}

func (e *Engine) checkAcknowledge(c process.Command) error {
	_, a, ok := e.house.board.find(c.Alarm)
	if !ok {
		return &process.Refusal{What: fmt.Sprintf("no alarm %d is standing", c.Alarm), Hint: "list them with: flitch alarms", NotFound: true}
	}
	if !a.Latest.AcknowledgedAt.IsZero() {
		was := process.Entered{Kind: c.Kind, By: a.Latest.AcknowledgedBy, At: a.Latest.AcknowledgedAt, Typed: a.Latest.AcknowledgedAt}
		if n := len(a.Latest.Answers); n > 0 {
			was.ID = a.Latest.Answers[n-1].ID
		}
		return &process.Refusal{What: fmt.Sprintf("alarm %d was acknowledged by %s", c.Alarm, was.By), Already: &was}
	}
	return nil
}

// unknown refuses a batch that never was.
func unknown(id string) error {
	return &process.Refusal{What: fmt.Sprintf("there is no batch %q", id), Hint: "list them with: flitch batch list", NotFound: true}
}
