package process

import (
	"strings"
	"testing"
	"time"
)

// Two hours above the limit are met only if they would be with a probe that reads low by
// as much as it is more uncertain than the rule allows; one that was found better by its
// check says more.
func TestTheColdLimitHasRoomForTheUncertainty(t *testing.T) {
	limit := testPlan().Cold.AboveC
	for name, c := range map[string]struct {
		reads, uncertain float64
		want             Verdict
	}{
		"well below":           {limit - 0.6, 1.5, Met},
		"just below":           {limit - 0.4, 1.5, NotMeasured},
		"the same, but better": {limit - 0.4, 1, Met},
		"above":                {limit + 0.1, 1.5, NotMet},
	} {
		d := newDiary(t)
		d.batch.Tracks[0].Probe.Uncertainty = c.uncertain
		d.line("slow", 0, 5*day, 5*minute, c.reads+0.01, c.reads-0.01)
		cook(d)
		got := d.clock(ClockCold)
		if got.Verdict != c.want {
			t.Errorf("%s: %+v", name, got)
		}
		if said := strings.Contains(strings.Join(got.Uncertain, "; "), "as it is uncertain"); said != (c.want == NotMeasured) {
			t.Errorf("%s: %q", name, got.Uncertain)
		}
	}
}

// The uncertainty widens the come-up at both ends: 6 h from 10 to 54.4 °C by what is read
// are more by what may be.
func TestTheComeUpHasRoomForTheUncertainty(t *testing.T) {
	for _, c := range []struct {
		kPerHour, uncertain float64
		want                Verdict
	}{{7.7, 0.5, Met}, {7.7, 1.5, NotMeasured}, {7.45, 0.5, NotMeasured}, {7.3, 0.5, NotMet}} {
		d := newDiary(t)
		d.batch.Tracks[2].Probe.Uncertainty = c.uncertain
		s := cook(d)
		d.line("core", s, s+9*hour, minute, 4, 4+9*c.kPerHour)
		d.stage(s+9*hour, StageChill)
		sum := time.Duration((490.0/9 - 10) / c.kPerHour * float64(hour)).Hours()
		if got := d.clock(ClockComeUp); got.Verdict != c.want || got.Sum < sum-0.01 || got.Sum > sum+0.01 {
			t.Errorf("%+v, want a sum of %.3f: %+v", c, sum, got)
		}
	}
}
