package engine

import (
	"fmt"
	"strings"

	"flitch/alerts"
	"flitch/process"
)

// noteDoses writes what the checks of new doses came to.
func (h *House) noteDoses(b *process.Batch, c process.Command) {
	if c.Kind != process.CommandDosed {
		return
	}
	for _, e := range b.Doses[max(0, len(b.Doses)-len(c.Dosing.Portions)):] {
		h.pending.note(process.JournalLine{At: c.Typed, Batch: b.ID, Kind: "dose check", By: "flitch", Text: fmt.Sprintf("%s: %s", e.Answer(), e.Text())})
	}
}

func dosedText(c process.Command) string {
	var parts []string
	for _, p := range c.Dosing.Portions {
		parts = append(parts, fmt.Sprintf("%s %.4g g", strings.Join(p.Pieces, "+"), p.CureG))
	}
	text := fmt.Sprintf("curing salt with %.4g %% nitrite weighed: %s", 100*c.Dosing.Nitrite, strings.Join(parts, ", "))
	if c.Text != "" {
		text += "; " + c.Text
	}
	return text
}

// details are the further lines of a message about an alarm that one number does not
// tell enough of.
func (h *House) details(entry, subject string) []string {
	switch entry {
	case "K4":
		return h.doseDetails(subject)
	case "B1", "B2":
		return append(h.blindDetails(subject), h.unitDetails(subject)...)
	case "B1g", "B2g":
		return h.absenceDetails(subject)
	case "B4a":
		return h.asksDetails(subject)
	case "B9":
		return h.checkDetails(subject)
	case "B9d":
		return h.pairDetails(subject)
	case "B2u":
		return h.unitDetails(subject)
	case "B7":
		return h.pathDetails(subject)
	case "B6m":
		return h.clockDetails()
	case "B7c":
		return h.endDetails()
	}
	return nil
}

// doseDetails are what the checks of a dose complain of.
func (h *House) doseDetails(subject string) (lines []string) {
	piece, batch, _ := strings.Cut(strings.TrimPrefix(subject, "piece "), " of batch ")
	b := h.batch(batch)
	if b == nil {
		return nil
	}
	if e := b.Dose(piece); e != nil {
		for _, c := range e.Complaints() {
			lines = append(lines, alerts.Sentence(c))
		}
	}
	return lines
}
