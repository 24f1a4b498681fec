package alerts

import "time"

// Fuel is what heats a smoker. It decides how long a falling chamber is waited
// for before it rings.
type Fuel string

// The fuels. Charcoal and pellets count as wood: a fire that has just been fed
// takes as long to come back.
const (
	Electric Fuel = "electric"
	Wood     Fuel = "wood"
)

// patience is the on-delay of H3: 12 min for an element or a gas flame, which
// come back at once or not at all, and 20 min for everything else. Proposal.
func (f Fuel) patience() time.Duration {
	if f == Electric {
		return 12 * time.Minute
	}
	return 20 * time.Minute
}
