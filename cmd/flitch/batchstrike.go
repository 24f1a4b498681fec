package main

import (
	"strings"

	"flitch/process"
	"flitch/process/record"
)

type batchStrikeCommand struct {
	batchName
	Entry string `arg:"" help:"The line that was wrong: its mark in flitch batch show, the first characters will do."`
	orderFlags
	Why string `help:"Why; within a minute it may be left out." placeholder:"TEXT"`
}

// Help shows an example.
func (batchStrikeCommand) Help() string {
	return "Nothing is deleted: the line stays on the record, struck out, with who did it and why, and counts for nothing from its beginning.\n" +
		"To put a right line in its place, enter that with --instead-of; without --at it keeps the time of the old one.\n\n" +
		"Example:\n\n    flitch batch strike OL-31-04 K7QD --why \"it was OL-31-05\" --by T.V."
}

// Run sends the strike.
func (c batchStrikeCommand) Run(t terminal) error {
	if strings.TrimSpace(c.Entry) == "" {
		return misuse("flitch batch show "+c.Batch, "no line is named")
	}
	return c.send(t, order{Kind: process.CommandStruck, Batch: c.Batch, Strikes: c.Entry, Why: strings.TrimSpace(c.Why)})
}

// insteadFlags make a correction of what is said.
type insteadFlags struct {
	InsteadOf string `help:"It stands in the place of this line of flitch batch show, which is struck out." placeholder:"ENTRY"`
	Why       string `help:"Why that is corrected; within a minute it may be left out." placeholder:"TEXT"`
}

func (f insteadFlags) instead(o order) order {
	o.Strikes, o.Why = f.InsteadOf, strings.TrimSpace(f.Why)
	return o
}

// leastMark is how much of the ID of an entry is printed, more where that is not enough.
const leastMark = 4

// entry is the whole ID of what was entered, of its first characters.
func (d *daemon) entry(batch, mark string) (string, error) {
	b, err := batchName{batch}.fetch(d)
	if err != nil {
		return "", err
	}
	found := ""
	for _, e := range b.Entries {
		switch {
		case e.ID == mark:
			return mark, nil
		case !strings.HasPrefix(strings.ToUpper(e.ID), strings.ToUpper(mark)):
		case found != "":
			return "", misuse("more of it, from flitch batch show "+batch, "%q begins more than one line", mark)
		default:
			found = e.ID
		}
	}
	if found == "" {
		return "", misuse("a mark from flitch batch show "+batch, "no line of batch %s is marked %q", batch, mark)
	}
	return found, nil
}

// mark is the shortest beginning by which an entry is known among the others.
func mark(id string, all []record.Entry) string {
	n := min(leastMark, len(id))
	for _, e := range all {
		for e.ID != id && n < len(id) && strings.HasPrefix(strings.ToUpper(e.ID), strings.ToUpper(id[:n])) {
			n++
		}
	}
	return id[:n]
}
