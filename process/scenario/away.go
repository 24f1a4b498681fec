package scenario

import "time"

// An Away is a time in which no phone can be reached: what is sent to it is tried
// again later.
type Away struct{ From, To time.Duration }

func (a Away) text(c clock) string {
	return "from " + c.text(a.From) + " to " + c.untilText(a.To, a.From) + " phone away"
}

// isAway takes "phone away". A probe may be named phone, too.
func (p *parser) isAway() bool {
	if len(p.left) != 2 || p.left[0] != (word{text: "phone"}) || p.left[1] != (word{text: "away"}) {
		return false
	}
	p.left = nil
	return true
}

// PhoneAway reports whether no phone can be reached at a time.
func (s *Scenario) PhoneAway(at time.Time) bool {
	since := at.Sub(s.Begins)
	for _, l := range s.Lines {
		if a, ok := l.Item.(Away); ok && since >= a.From && since < a.To {
			return true
		}
	}
	return false
}
