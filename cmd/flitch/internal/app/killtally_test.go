package app

import (
	"fmt"
	"slices"
	"strings"
	"time"
)

// doing says what is under way, as its peers see it.
func (s *slaughter) doing(v *victim) (all []string) {
	if !v.open {
		return []string{"it was starting"}
	}
	for _, one := range s.senders {
		if one.unacked() > 0 {
			all = append(all, "readings were on their way")
			break
		}
	}
	if s.phone.inside.Load() > 0 {
		all = append(all, "a message was on its way")
	}
	if s.duty.inside.Load() > 0 {
		all = append(all, "a person's answer was on its way")
	}
	if len(all) == 0 {
		all = []string{"nothing was on its way"}
	}
	return all
}

// evaluates waits for the first evaluation of a life.
func (s *slaughter) evaluates() {
	s.t.Helper()
	for s.metric("flitch_inputs_evaluated_total") == 0 {
		if time.Since(s.began) > 60*time.Second {
			s.t.Fatal("nothing was evaluated for 60 s after a start")
		}
		<-time.After(time.Millisecond) // a real process
	}
	s.again = append(s.again, time.Since(s.began))
}

// tally prints what the kills came to.
func (s *slaughter) tally(mode string) {
	s.t.Helper()
	var lines []string
	for what, n := range s.during {
		lines = append(lines, fmt.Sprintf("%d while %s", n, what))
	}
	slices.Sort(lines)
	slices.Sort(s.again)
	if len(s.again) == 0 {
		s.t.Fatal("no life was timed")
	}
	s.t.Logf("%s: %d kills: %s", mode, len(s.deaths), strings.Join(lines, "; "))
	s.t.Logf("%s: from a start after a kill to the first evaluation: median %s, worst %s of %d", mode,
		s.again[len(s.again)/2].Round(time.Millisecond), s.again[len(s.again)-1].Round(time.Millisecond), len(s.again))
	s.t.Logf("soak kills_injected %d kills >=10 -", len(s.deaths))
	s.t.Logf("soak kills_%s_again_p50 %.3f s - -", mode, s.again[len(s.again)/2].Seconds())
	s.t.Logf("soak kills_%s_again_worst %.3f s - -", mode, s.again[len(s.again)-1].Seconds())
}
