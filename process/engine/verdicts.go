package engine

import (
	"fmt"

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

// judge writes a journal line for each clock whose verdict has changed.
func (h *House) judge() {
	for _, b := range h.pending.batches {
		before := h.judged[b.ID]
		for _, c := range b.Clocks(b.Now) {
			if was := before[c.Name]; was != c.Verdict {
				h.pending.note(process.JournalLine{At: b.Now, Batch: b.ID, Kind: "verdict", By: "flitch", Text: verdictText(c, was)})
			}
		}
		h.judged[b.ID] = judge(b)
		if !b.Open() {
			delete(h.judged, b.ID)
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
