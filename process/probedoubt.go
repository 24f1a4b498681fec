package process

import "slices"

// clocksOf are the clocks that a placement is measured for.
func clocksOf(p Placement) []ClockName {
	switch p {
	case Product, Air:
		return []ClockName{ClockCure, ClockCold}
	case Core:
		return []ClockName{ClockComeUp, ClockLethality, ClockChillA, ClockChillB, ClockChillC}
	case Chamber:
		return []ClockName{ClockFerment}
	case WetBulb, Humidity:
		return []ClockName{ClockHumidity}
	}
	return nil
}

// DoubtClocks says on the clocks of a placement what makes them doubtful. A verdict is
// the rule's and stays: whether it holds is for a person to review.
func DoubtClocks(clocks []Clock, p Placement, why string) {
	for i := range clocks {
		if slices.Contains(clocksOf(p), clocks[i].Name) {
			clocks[i].Uncertain = append(clocks[i].Uncertain, why)
		}
	}
}
