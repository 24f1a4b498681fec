package main

import (
	"crypto/rand"
	"errors"
	"fmt"
	"strings"
	"time"

	"flitch/cmd/flitch/internal/web"
	"flitch/process"
)

// An order is a command as it is sent to the daemon.
type order struct {
	ID        string                `json:"id"` // random: the same order sent twice is taken once
	Kind      process.CommandKind   `json:"kind"`
	Batch     string                `json:"batch,omitempty"`
	By        string                `json:"by"`
	At        time.Time             `json:"at,omitzero"` // zero: now, by the daemon's clock
	Stage     process.StageName     `json:"stage,omitempty"`
	Pieces    []string              `json:"pieces,omitempty"`
	Placement process.Placement     `json:"placement,omitempty"`
	Value     *float64              `json:"value,omitempty"` // °C; nil: none, and 0 °C is a value
	Text      string                `json:"text,omitempty"`
	Strikes   string                `json:"strikes,omitempty"` // of an entry, or as much of it as flitch batch show prints
	Why       string                `json:"why,omitempty"`
	Alarm     int64                 `json:"alarm,omitempty"`
	Entry     string                `json:"entry,omitempty"`
	Of        string                `json:"of,omitempty"`
	Until     time.Time             `json:"until,omitzero"` // end of a duty or a shelf
	Dosing    *process.Dosing       `json:"dosing,omitempty"`
	Check     *process.CheckSaid    `json:"check,omitempty"`
	Unit      *process.UnitSaid     `json:"unit,omitempty"`
	Rung      process.Rung          `json:"rung,omitempty"` // weighed: of the yield ladder
	Way       process.Way           `json:"way,omitempty"`  // counted: in or out
	Taste     *process.Taste        `json:"taste,omitempty"`
	Cost      *process.Cost         `json:"cost,omitempty"`
	Weights   []process.PieceWeight `json:"weights,omitempty"` // weighed: several pieces at once
	New       *newBatch             `json:"new,omitempty"`

	Action      *process.ActionSaid `json:"action,omitempty"`
	Disposition process.Disposition `json:"disposition,omitempty"`
}

// A newBatch names what the daemon looks up in its configuration.
type newBatch = web.NewRequest

// orderFlags are common to all commands that say something.
type orderFlags struct {
	daemonFlags
	By string `help:"Your initials ($FLITCH_BY)." placeholder:"INITIALS"`
	At string `help:"When it happened: HH:MM of today, or RFC 3339. Now when left out." placeholder:"TIME"`
}

// send signs the order, sends it and prints what was taken.
func (f orderFlags) send(t terminal, o order) error {
	var err error
	if o.By, err = f.signature(t); err != nil {
		return err
	}
	daemon, err := f.daemon(t)
	if err != nil {
		return err
	}
	if o.At, err = parseMoment(f.At, t.now(), daemon.zone); err != nil {
		return err
	}
	if o.Strikes != "" && o.Batch != "" {
		if o.Strikes, err = daemon.entry(o.Batch, o.Strikes); err != nil {
			return err
		}
	}
	o.ID = rand.Text()
	var answer struct {
		OK      bool   `json:"ok"`
		Message string `json:"message"`
	}
	if err := daemon.post("/api/commands", o, &answer); err != nil {
		return err
	}
	if !answer.OK {
		return daemon.strange("an answer without ok")
	}
	_, err = fmt.Fprintln(t.out, shown(answer.Message))
	return err
}

func (f orderFlags) signature(t terminal) (string, error) {
	by := strings.TrimSpace(f.By)
	if by == "" {
		by = strings.TrimSpace(t.env("FLITCH_BY"))
	}
	return by, signs(by)
}

// signs complains about initials under which nothing can be entered.
func signs(by string) error {
	const try = "--by T.V., or FLITCH_BY=T.V. in the environment"
	if by == "" || strings.HasPrefix(by, "-") {
		return misuse(try, "nobody signed")
	}
	if no, ok := errors.AsType[*process.Refusal](process.CheckSignature(by)); ok {
		return misuse(try, "%s", no.What)
	}
	return nil
}
