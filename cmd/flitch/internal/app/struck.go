package app

import (
	"cmp"
	"context"
	"fmt"
	"strings"

	"flitch/process"
	"flitch/process/record"
)

// struckEntries lists what was struck out of a batch, as it was said.
func struckEntries(b *process.Batch) (out []record.Entry) {
	for _, s := range b.Struck {
		e := entryOf(b, s.Was)
		e.Struck = &record.Strike{ID: s.ID, At: s.At, By: s.By, Why: s.Why, Instead: s.Instead}
		out = append(out, e)
	}
	return out
}

// entryOf is a command as an entry of the record.
func entryOf(b *process.Batch, c process.Command) record.Entry {
	e := record.Entry{ID: c.ID, Kind: c.Kind, Happened: c.At, Typed: c.Typed, By: c.By, Text: c.Text, Pieces: c.Pieces}
	switch c.Kind {
	case process.CommandStage:
		e.Text, e.Why = string(c.Stage), c.Text
	case process.CommandTurned:
		e.Text = cmp.Or(strings.Join(c.Pieces, ", "), "all pieces")
	case process.CommandCounted:
		e.Value, e.Text = c.Value, fmt.Sprintf("%.0f pieces of %d", c.Value, len(b.Pieces))
	case process.CommandReading, process.CommandWeighed:
		e.Placement, e.Value = c.Placement, c.Value
		if c.Kind == process.CommandWeighed {
			e.Placement = process.Weight
		}
		if len(c.Pieces) > 0 {
			e.Piece = c.Pieces[0]
		}
	}
	return e
}

// struckRows are the readings by hand that were struck out: they stay in the table, are
// bad, and say by whom.
func struckRows(b *process.Batch, yield func(record.Row) error) error {
	for _, s := range b.Struck {
		e := entryOf(b, s.Was)
		if e.Placement == "" {
			continue
		}
		by := byHand(process.HandEntry{By: e.By, Text: e.Text})
		err := yield(record.Row{Measured: e.Happened, Received: e.Typed, Batch: b.ID, Piece: e.Piece, Placement: e.Placement, Probe: by,
			Value: e.Value, Quality: process.Bad, Reason: "struck out by " + s.By, Source: record.StruckOut})
		if err != nil {
			return err
		}
	}
	return nil
}

// Entries implements web.Reader: what people said of a batch, in the order it was typed.
func (r *reader) Entries(_ context.Context, id string) ([]record.Entry, error) {
	b, err := r.load(id)
	if err != nil {
		return nil, err
	}
	return entries(b), nil
}
