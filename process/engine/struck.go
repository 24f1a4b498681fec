package engine

import (
	"fmt"
	"maps"
	"slices"
	"time"

	"flitch/alerts"
	"flitch/process"
)

// strike notes that something said of a batch was taken back or corrected. What counts
// then is in the log: whoever has that computes the batch anew before the next input.
func (h *House) strike(b *process.Batch, in process.Input) {
	h.found = process.Step(b, in, h.found[:0])
	h.pending.batches[b.ID] = b
	h.struck = append(h.struck, in.Command)
}

// takeStruck takes out the commands of which the batches have to be computed anew.
func (h *House) takeStruck() []process.Command {
	list := h.struck
	h.struck = nil
	return list
}

// struckLine is the line of the journal for a strike or a correction, when fresh has come
// of it.
func struckLine(c process.Command, fresh *process.Batch) process.JournalLine {
	line := lineOf(c)
	old, ok := fresh.StruckOut(c.Strikes)
	if !ok {
		return line
	}
	was := fmt.Sprintf("%s (by %s, typed %s)", commandText(old.Was), old.Was.By, old.Was.Typed.Format(time.RFC3339))
	if c.Kind == process.CommandStruck {
		line.Text = "struck out: " + was
	} else {
		line.Text += "; stands in the place of, struck out: " + was
	}
	if c.Why != "" {
		line.Text += ": " + c.Why
	}
	return line
}

// A back is an answer or a shelf that somebody takes back.
type back struct {
	what  process.Entered
	taken *alerts.Withdrawal // it was taken back before
	over  error              // why there is nothing to take back
	do    func(alerts.Withdrawal)
}

// back finds the answer or the shelf that was said by a command.
func (h *House) back(id string) (back, bool) {
	if id == "" {
		return back{}, false
	}
	for key, a := range h.board.alarms {
		answer, ok := a.Answer(id)
		en, known := h.board.entry(key)
		if !ok || !known {
			continue
		}
		return back{what: process.Entered{ID: id, Kind: process.CommandAcknowledge, By: answer.By, At: answer.At, Typed: answer.At},
			taken: answer.Withdrawn, over: alerts.Withdrawable(en, a, id),
			do: func(w alerts.Withdrawal) { h.events(en, a, alerts.Withdraw(en, a, id, w)) }}, true
	}
	for _, key := range slices.Sorted(maps.Keys(h.people.Shelved)) {
		if s := h.people.Shelved[key]; s.ID == id {
			return back{what: process.Entered{ID: id, Kind: process.CommandShelve, By: s.By, At: s.At, Typed: s.At},
				do: func(w alerts.Withdrawal) { h.unshelve(key, w) }}, true
		}
	}
	return back{}, false
}

// checkBack refuses to take back an answer or a shelf that does not stand. found is false
// when the command is about neither.
func (h *House) checkBack(c process.Command) (found bool, err error) {
	b, ok := h.back(c.Strikes)
	switch {
	case !ok && c.Batch == "":
		return true, &process.Refusal{What: fmt.Sprintf("no answer and no shelf that stands was entered under %q", c.Strikes),
			Hint: "list them with: flitch alarms; and what was said of a batch with: flitch batch show", NotFound: true}
	case !ok:
		return false, nil
	case !h.knows(c):
		return true, Stranger(h.policy, c.By)
	case b.taken != nil:
		return true, &process.Refusal{What: fmt.Sprintf("%s took that back at %s", b.taken.By, b.taken.At.Format(time.RFC3339)), Hint: "nothing is left to take back",
			Already: &process.Entered{ID: c.Strikes, Kind: process.CommandStruck, By: b.taken.By, At: b.taken.At, Typed: b.taken.At}}
	case b.over != nil:
		return true, &process.Refusal{What: b.over.Error(), Hint: "list them with: flitch alarms"}
	}
	return true, process.CheckWhy(b.what, c, c.Typed)
}

// takeBack takes back an answer or a shelf, and reports whether the command was about one.
func (h *House) takeBack(c process.Command) bool {
	b, ok := h.back(c.Strikes)
	if !ok || b.taken != nil || b.over != nil {
		return c.Batch == ""
	}
	b.do(alerts.Withdrawal{By: c.By, At: c.Typed, Why: c.Why})
	return true
}

// unshelve ends a shelf before its time. An alarm that stands asks again.
func (h *House) unshelve(key string, w alerts.Withdrawal) {
	s := h.people.Shelved[key]
	delete(h.people.Shelved, key)
	h.pending.people = true
	k := keyOf(key)
	text := fmt.Sprintf("%s, %s: taken back, no longer %s (%s: %s)", k.entry, k.subject, s.Word(), s.By, s.Reason)
	if w.Why != "" {
		text += ": " + w.Why
	}
	h.pending.note(process.JournalLine{At: w.At, Batch: batchOf(k.subject), Kind: string(process.CommandStruck), By: w.By, Text: text})
	if a := h.board.alarms[k]; a != nil && a.Shelf.ID == s.ID {
		en, _ := h.board.entry(k)
		a.Shelf.Until = w.At
		h.events(en, a, alerts.Tick(en, a, w.At))
		h.pending.alarms[k] = a
	}
}
