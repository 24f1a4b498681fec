package engine

import (
	"fmt"
	"maps"
	"slices"

	"flitch/process"
)

// verdicts is what each clock of a batch last said.
type verdicts map[process.ClockName]process.Verdict

func judge(b *process.Batch) verdicts {
	v := verdicts{}
	for _, c := range b.Clocks(b.Now) {
		v[c.Name] = c.Verdict
	}
	return v
}

// judge writes a journal line for each clock whose verdict has changed. Batches go by
// name, so that the same inputs give the same lines.
func (h *House) judge() {
	for _, id := range slices.Sorted(maps.Keys(h.pending.batches)) {
		b := h.pending.batches[id]
		before, known := h.judged[id]
		if !known { // closed: its clocks stand
			continue
		}
		now := verdicts{}
		for _, c := range b.Clocks(b.Now) {
			now[c.Name] = c.Verdict
			if was := before[c.Name]; was != c.Verdict {
				h.pending.note(process.JournalLine{At: b.Now, Batch: id, Kind: "verdict", By: "flitch", Text: verdictText(c, was)})
			}
		}
		h.judged[id] = now
		if !b.Open() {
			delete(h.judged, id)
		}
	}
}

func verdictText(c process.Clock, was process.Verdict) string {
	text := fmt.Sprintf("%s: %s (%.2f %s, limit %.2f %s; %s)", c.Name, word(c.Verdict), c.Sum, c.Unit, c.Limit, c.Unit, c.Rule)
	if was != process.Running {
		text += fmt.Sprintf("; was %s", word(was))
	}
	return text
}

func word(v process.Verdict) string {
	if v == process.Running {
		return "running"
	}
	return string(v)
}
