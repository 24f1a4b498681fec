package process

import (
	"math"
	"testing"
	"time"
)

func TestAVitalIsHeldAgainstItsLimit(t *testing.T) {
	p := newBench()
	say := func(day int, v Vital) []Finding {
		at := noon.AddDate(0, 0, day)
		return StepPlace(p, Input{Kind: InputCommand, At: at, Command: Command{Kind: CommandVital, At: at, Vital: &v}}, nil)
	}
	for _, c := range []struct {
		v       Vital
		measure Measure
		steps   float64
	}{
		{Vital{"slow", VitalBattery, 78, 20, "%"}, MeasureBattery, 58},
		{Vital{"slow", VitalBattery, 20, 20, "%"}, MeasureBattery, 0},
		{Vital{"slow", VitalBattery, 2.38, 2.4, "V"}, MeasureBattery, -2},
		{Vital{"slow", VitalSignal, -91, -85, "dBm"}, MeasureSignal, -6},
	} {
		found := say(1, c.v)
		if len(found) != 1 || found[0].Measure != c.measure || math.Abs(found[0].Value-c.steps) > 1e-9 || found[0].Subject != "probe slow of fridge alder" {
			t.Errorf("%s: found %+v, want %g", c.v.Words(), found, c.steps)
		}
	}
	if v := p.Probe("slow").Vital(VitalBattery); v == nil || v.Value != 2.38 || !v.At.Equal(noon.Add(day)) {
		t.Errorf("newest battery %+v", v)
	}
	if v := p.Probe("slow").Vital(VitalSignal); v == nil || v.Words() != "signal -91 dBm, limit -85 dBm" {
		t.Errorf("newest signal %+v", v)
	}
	if found := say(2, Vital{"other", VitalBattery, 1, 20, "%"}); len(found) != 0 {
		t.Errorf("a probe of another place: %+v", found)
	}
	if found := StepPlace(p, Input{Kind: InputTick, At: noon.Add(3 * time.Hour)}, nil); len(found) == 0 {
		t.Fatal("nothing found on the minute")
	} else {
		for _, f := range found {
			if f.Measure == MeasureBattery || f.Measure == MeasureSignal {
				t.Errorf("told on the minute, not once a day: %+v", f)
			}
		}
	}
}
