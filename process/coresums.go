package process

// CoreSums are the sums that follow from what one core measured. They go back to a
// checkpoint when its readings turn out not to be the meat's.
type CoreSums struct {
	ComeUp ComeUpSum `json:"come_up"`
	Lethal LethalSum `json:"lethal"`
	Legs   []Leg     `json:"legs"` // of the chill, in the order of the rule

	Kills KillSums   `json:"kills"`
	Grown GrowthSums `json:"grown"`
}

// set copies other into s, in the room s has.
func (s *CoreSums) set(other *CoreSums) {
	rows, legs := append(s.Lethal.Rows[:0], other.Lethal.Rows...), append(s.Legs[:0], other.Legs...)
	*s = *other
	s.Lethal.Rows, s.Legs = rows, legs
}
