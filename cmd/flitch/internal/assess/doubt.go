package assess

import (
	"fmt"
	"slices"

	"flitch/process"
)

// The clocks that a probe speaks for.
var (
	coreClocks = []process.ClockName{process.ClockComeUp, process.ClockLethality, process.ClockHumidity,
		process.ClockChillA, process.ClockChillB, process.ClockChillC}
	coldClocks = []process.ClockName{process.ClockCure, process.ClockCold}

	clocksOf = map[process.Placement][]process.ClockName{
		process.Core: coreClocks, process.Product: coldClocks, process.Air: coldClocks, process.Chamber: {process.ClockFerment},
		process.WetBulb: {process.ClockHumidity}, process.Humidity: {process.ClockHumidity}, process.Weight: {process.ClockDrying},
	}
)

// judgedAsSeen are the clocks and the verdict of the batch. The clocks judge by the
// probes that were heard; here they learn of what the file tells of and nobody could
// read. A clock with such a doubt is not met.
func (s *run) judgedAsSeen() ([]process.Clock, process.Verdict) {
	clocks, verdict := s.batch.Clocks(s.Now), s.batch.Verdict(s.Now)
	for i := range clocks {
		c := &clocks[i]
		sizeless := s.unsized && sizes(s.asked, c.Name)
		doubts := s.doubts(c.Name)
		if sizeless {
			doubts = append(doubts, noPiece)
		}
		c.Uncertain = append(c.Uncertain, doubts...)
		if !sizeless && (len(doubts) == 0 || c.Verdict != process.Met) {
			continue
		}
		c.Verdict = process.NotMeasured
		if verdict == process.Met {
			verdict = process.NotMeasured
		}
	}
	return clocks, verdict
}

// doubts are why a clock cannot be met. The turns and the keeping time are a person's
// word, and hold nothing.
func (s *run) doubts(name process.ClockName) []string {
	if name == process.ClockTurn || name == process.ClockKeep {
		return nil
	}
	doubts := slices.Clone(s.unsure)
	if name == process.ClockCure {
		doubts = append(doubts, s.undosed...) // it begins with them
	}
	for _, t := range s.batch.Tracks {
		if t.First.At.IsZero() && slices.Contains(clocksOf[t.Probe.Placement], name) && !s.besides(t) {
			doubts = append(doubts, fmt.Sprintf("no row of probe %s could be read", t.Probe.Probe))
		}
	}
	return doubts
}

// besides reports whether a probe decides nothing where it is: the air beside a sensor
// that moves as the product does.
func (s *run) besides(t *process.Track) bool {
	return t.Probe.Placement == process.Air && s.batch.TrackOf(process.Product) != nil
}
