package action

import (
	"slices"
	"strings"
	"time"

	"flitch/process"
)

// Words are how the house writes temperatures, °C, and times.
type Words interface {
	Temp(c float64) string
	Short(at time.Time) string
}

// An Event is the alarm an action is about. The zero Event is none: the text is then of a
// clock. One with its entry alone did not ring: of it nothing is known.
type Event struct {
	Entry   string // of the catalogue
	Subject string
	Since   time.Time
	Cleared time.Time // zero: it stands
	Worst   float64   // in the unit of the entry
	Limit   float64
}

// A Case is what a text is filled in for.
type Case struct {
	Batch *process.Batch
	About string // as process.ActionSaid has it
	Event Event
	Now   time.Time
	Words Words

	// Readings hands over the believed readings of a probe, °C, by time. Nil: none.
	Readings func(probe string, from, to time.Time, each func(at time.Time, c float64))
}

// Text is the ready text for the case, with all that the log knows; false when there is
// none. It is a proposal that a person edits.
func Text(c Case) (said process.ActionSaid, ok bool) {
	l, ok := c.line()
	if !ok {
		return process.ActionSaid{About: c.About}, false
	}
	known := c.facts(l)
	return process.ActionSaid{About: c.About, Cause: filled(l.Cause, known), Control: filled(l.Control, known),
		Prevention: filled(l.Prevention, known), Product: filled(l.Product, known)}, true
}

// line finds the text. Of a dose there are two: for one that is off, and for none.
func (c Case) line() (Line, bool) {
	entry := c.Event.Entry
	if strings.HasPrefix(c.About, "dose of ") {
		entry = "K4"
	}
	i := slices.IndexFunc(lines(), func(l Line) bool {
		if entry == "K4" && slices.Contains(l.Entries, entry) {
			return (l.Name == "dose missing") == c.undosed()
		}
		return slices.Contains(l.Entries, entry) || entry == "" && slices.Contains(l.Clocks, c.About)
	})
	if i < 0 {
		return Line{}, false
	}
	return lines()[i], true
}

// undosed reports an alarm about a piece that had no cure when it was raised.
func (c Case) undosed() bool {
	if c.Event.Entry == "" {
		return false
	}
	first := c.doseOf(c.piece(), false)
	return first == nil || c.rang() && first.Typed.After(c.Event.Since)
}

// rang reports whether there is an alarm whose numbers are known.
func (c Case) rang() bool { return c.Event.Entry != "" && !c.Event.Since.IsZero() }

// unheard reports a line of the catalogue of which there is no alarm.
func (c Case) unheard() bool { return c.Event.Entry != "" && !c.rang() }

// facts are what the log knows for a text.
func (c Case) facts(l Line) map[string]string {
	known := map[string]string{"slabs": c.slabs(), "from": c.at(c.from()), "to": c.at(c.to()), "slab": c.piece()}
	switch l.Name {
	case "warm fridge", "cold fridge":
		c.fridge(known)
		c.decision(known)
	case "turn missed":
		c.turn(known)
	case "dose off", "dose missing":
		c.dose(known)
	case "fire out", "come-up":
		c.fire(known)
	case "probe out", "not to temperature":
		c.heat(known)
		c.second(known)
	case "chill":
		c.chill(known)
	case "blind":
		c.hands(known)
	case "bad probe":
		c.check(known)
	}
	return known
}

func (c Case) at(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return c.Words.Short(t)
}

func (c Case) clock(name string) (process.Clock, bool) {
	for _, k := range c.Batch.Clocks(c.Now) {
		if string(k.Name) == name {
			return k, true
		}
	}
	return process.Clock{}, false
}

// from and to are when it began and was over: by the alarm, else by the clock.
func (c Case) from() time.Time {
	if c.Event.Entry != "" {
		return c.Event.Since
	}
	k, _ := c.clock(c.About)
	return k.From
}

func (c Case) to() time.Time {
	if c.Event.Entry != "" {
		return c.Event.Cleared
	}
	k, _ := c.clock(c.About)
	return k.To
}

// until is to, or now while it lasts.
func (c Case) until() time.Time {
	if t := c.to(); !t.IsZero() {
		return t
	}
	return c.Now
}

// slabs are the names of all pieces.
func (c Case) slabs() string {
	var names []string
	for _, p := range c.Batch.Pieces {
		names = append(names, p.Name)
	}
	return strings.Join(names, ", ")
}

// piece is the one the case is about; empty when it is about all.
func (c Case) piece() string {
	for _, p := range c.Batch.Pieces {
		if strings.HasPrefix(c.Event.Subject, "piece "+p.Name+" of ") || c.About == "dose of "+p.Name || c.About == p.Name {
			return p.Name
		}
	}
	for _, t := range c.Batch.Tracks {
		if t.Probe.Piece != "" && strings.HasPrefix(c.Event.Subject, "probe "+t.Probe.Probe+" of ") {
			return t.Probe.Piece
		}
	}
	if len(c.Batch.Pieces) == 1 {
		return c.Batch.Pieces[0].Name
	}
	return ""
}
