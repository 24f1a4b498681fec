package engine

import (
	"encoding/json"
	"fmt"
	"strings"

	"flitch/process"
)

// Papers of a closed batch, such as its review, may come years after it. A closed batch is
// not kept in memory: it is fetched for the command, stepped, and written back like any
// other, so that a crash between the log and the batch is made good at the start.

// stored reports whether a batch of the command's name was ever started. A closed one is
// fetched.
func (e *Engine) stored(c process.Command) (taken bool, err error) {
	e.mu.Lock()
	here := e.house.batch(c.Batch) != nil || e.house.closed[c.Batch] != nil
	e.mu.Unlock()
	if here || c.Batch == "" {
		return here, nil
	}
	row, found, err := e.Store.StoredBatch(c.Batch)
	if err != nil || !found {
		return false, err
	}
	return true, e.fetch(row)
}

// fetch brings a closed batch into memory until the next save.
func (e *Engine) fetch(row BatchRow) error {
	b := new(process.Batch)
	if err := json.Unmarshal(row.State, b); err != nil {
		return fmt.Errorf("engine: stored batch %s: %w", row.ID, err)
	}
	if b.Open() {
		return nil
	}
	e.mu.Lock()
	defer e.mu.Unlock()
	e.house.closed[row.ID] = b
	return nil
}

// fetchClosed brings the closed batches into memory that the inputs say something of.
func (e *Engine) fetchClosed(inputs []process.Input) error {
	for _, in := range inputs {
		if in.Kind != process.InputCommand || !process.TakesClosed(in.Command.Kind) {
			continue
		}
		if _, err := e.stored(in.Command); err != nil {
			return err
		}
	}
	return nil
}

// checkPapers refuses what cannot be said of the batch as it stands.
func (h *House) checkPapers(b *process.Batch, c process.Command, reviewerDiffers bool) error {
	if err := process.Check(b, c, c.Typed); err != nil {
		return err
	}
	if c.Kind == process.CommandReviewed && reviewerDiffers {
		if err := process.CheckReviewer(b, c); err != nil {
			return err
		}
	}
	if c.Kind == process.CommandAction && b.NamesLine(c.Action.About) && !h.board.knows(c.Action.About) {
		return &process.Refusal{What: fmt.Sprintf("%s is no line of the catalogue", c.Action.About), Hint: "list them with: flitch alarms --catalogue"}
	}
	return process.CheckStanding(b, c)
}

// knows reports whether the catalogue has the line.
func (b *board) knows(line string) bool {
	_, ok := b.entries[line]
	return ok
}

// paperText is a paper as the journal tells it.
func paperText(c process.Command) string {
	switch c.Kind {
	case process.CommandAction:
		text := "corrective action about " + c.Action.About
		for _, p := range c.Action.Parts() {
			text += "; " + p.Name + ": " + p.Text
		}
		return text
	case process.CommandDisposition:
		pieces := "all pieces"
		if len(c.Pieces) > 0 {
			pieces = strings.Join(c.Pieces, ", ")
		}
		return fmt.Sprintf("%s: %s: %s", c.Disposition, pieces, c.Text)
	case process.CommandReviewed:
		return strings.TrimSpace("record reviewed " + c.Text)
	}
	if c.Photo != nil {
		return strings.TrimSpace(c.Text + " (photo " + c.Photo.SHA256 + ")")
	}
	return c.Text
}
