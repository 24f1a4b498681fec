package web

import (
	"strconv"
	"strings"

	"flitch/process"
)

// Doses are the cure of the slabs, while the batch lies in it.
type Doses struct {
	Entries []process.DoseEntry `json:"entries"`           // in force, in the order of the slabs
	Missing []string            `json:"missing,omitempty"` // slabs without one
}

// Last is the packet, the rule and what was asked, as they were said the last time; the
// form need not ask again.
func (d Doses) Last() *process.Dosing {
	if n := len(d.Entries); n > 0 {
		return &d.Entries[n-1].Said
	}
	return nil
}

// dosed makes a command of the form for one slab.
func (s *server) dosed(e entry, c *process.Command) error {
	if e.Where == "" {
		return complaint(must("err.dose.slab"))
	}
	portion := process.DosePortion{Pieces: []string{e.Where}}
	c.Dosing = &process.Dosing{Rule: e.Rule}
	for _, f := range []struct {
		text string
		into *float64
		must bool
	}{{e.Value, &portion.CureG, true}, {e.Asked, &c.Dosing.PPM, false}, {e.Nitrite, &c.Dosing.Nitrite, false}} {
		if f.text == "" && !f.must {
			continue
		}
		v, err := strconv.ParseFloat(strings.Replace(f.text, ",", ".", 1), 64)
		if err != nil || !(v > 0 && v <= 20_000) { // written so that NaN is refused
			return complaint(must("err.dose", f.text))
		}
		*f.into = v
	}
	c.Dosing.Nitrite /= 100
	c.Dosing.Portions, c.Text = []process.DosePortion{portion}, e.Text
	s.identify(c, process.CommandDosed, "-"+e.Where)
	return nil
}
