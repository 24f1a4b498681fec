package app

import (
	"cmp"
	"context"
	"strings"

	"flitch/process"
	"flitch/process/record"
)

// struckEntries lists what was struck out of a batch, as it was said.
func struckEntries(b *process.Batch) (out []record.Entry) {
	for _, s := range b.Struck {
		for _, e := range entriesOf(b, s.Was) {
			e.Struck = &record.Strike{ID: s.ID, At: s.At, By: s.By, Why: s.Why, Instead: s.Instead}
			out = append(out, e)
		}
	}
	return out
}

// entriesOf is a command as the record has it: an entry, and of several weights each.
func entriesOf(b *process.Batch, c process.Command) (out []record.Entry) {
	e := entryOf(b, c)
	if c.Kind != process.CommandWeighed {
		return []record.Entry{e}
	}
	for _, w := range c.Weighings() {
		e.Placement, e.Piece, e.Value = process.Weight, w.Piece, w.Grams
		e.Text = weighingText(c.Rung, c.Text)
		out = append(out, e)
	}
	return out
}

// entryOf is a command as one entry of the record.
func entryOf(b *process.Batch, c process.Command) record.Entry {
	e := record.Entry{ID: c.ID, Kind: c.Kind, Happened: c.At, Typed: c.Typed, By: c.By, Text: c.Text, Pieces: c.Pieces}
	switch c.Kind {
	case process.CommandStage:
		e.Text, e.Why = string(c.Stage), c.Text
	case process.CommandTurned:
		e.Text = cmp.Or(strings.Join(c.Pieces, ", "), "all pieces")
	case process.CommandCounted:
		e.Value, e.Text = c.Value, countText(process.Count{Stage: c.Stage, Way: c.Way, Pieces: int(c.Value)}, len(b.Pieces))
	case process.CommandReading:
		e.Placement, e.Value = c.Placement, c.Value
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
		for _, e := range entriesOf(b, s.Was) {
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
