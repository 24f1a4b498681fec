package process

import "testing"

// The probe that was in a packed batch is in the next one, which cooks: the packed one
// hears nothing of it, and tells nothing.
func TestAPackedBatchHasNoCore(t *testing.T) {
	d := newDiary(t)
	d.batch.Plan.Stages = append(d.batch.Plan.Stages, StagePlan{Name: StagePack, Where: WhereRoom, Button: true, Source: "test"})
	s := cook(d)
	d.line("core", s, s+hour, minute, 60, 66)
	d.stage(s+hour, StageChill)
	d.line("core", s+hour+minute, s+4*hour, minute, 66, 3)
	d.stage(s+4*hour, StagePack)
	ended := d.batch.track("core").Legs[1].End
	d.line("core", s+4*hour+minute, s+6*hour, minute, 4, 60)
	d.tick(s + 6*hour)
	track := d.batch.track("core")
	if ended.IsZero() || !track.Legs[1].End.Equal(ended) || track.Last.Value != 3 {
		t.Errorf("last %+v, legs %+v: want what was seen until it was packed", track.Last, track.Legs)
	}
	for _, f := range d.found[:] {
		if f.At.After(noon.Add(s+4*hour+minute)) && f.State == Known && (f.Measure == MeasureProbeOut || f.Measure == MeasureNoChill || f.Measure == MeasureChillLate) && f.Value > 0 {
			t.Errorf("told %+v", f)
		}
	}
}
