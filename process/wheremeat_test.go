package process

import (
	"math"
	"testing"
	"time"
)

// A batch is where its meat is, whichever probe was written down first.
func TestPlaceIsWhereTheMeatIs(t *testing.T) {
	d := newDiary(t)
	d.batch.Tracks = nil
	for _, p := range []PlacedProbe{
		{Probe: "mains", Place: "meter cupboard", Placement: Power},
		{Probe: "door", Place: "larder", Placement: Door},
		{Probe: "outside", Place: "yard", Placement: Ambient},
		{Probe: "core", Place: "kettle", Placement: Core},
		{Probe: "birch-air", Place: "birch", Placement: Air, For: []StageName{StageChill}},
		{Probe: "alder-air", Place: "alder", Placement: Air, For: []StageName{StageCure}},
		{Probe: "slow", Place: "alder", Placement: Product, For: []StageName{StageCure}},
		{Probe: "chamber", Place: "kettle", Placement: Chamber},
	} {
		d.batch.Tracks = append(d.batch.Tracks, newTrack(p, d.batch.Plan))
	}
	for i, c := range []struct {
		stage StageName
		want  string
	}{{StageCure, "alder"}, {StageRinse, ""}, {StageSmoke, "kettle"}, {StageChill, "birch"}} {
		if i > 0 {
			d.stage(time.Duration(i)*minute, c.stage)
		}
		if got := d.batch.Place(); got != c.want {
			t.Errorf("in %s it is in %q, want %q", c.stage, got, c.want)
		}
	}
}

// With nothing but switches they have to say.
func TestPlaceBySwitches(t *testing.T) {
	d := newDiary(t)
	d.batch.Tracks = []*Track{newTrack(PlacedProbe{Probe: "mains", Place: "larder", Placement: Power}, d.batch.Plan),
		newTrack(PlacedProbe{Probe: "door", Place: "alder", Placement: Door}, d.batch.Plan)}
	if got := d.batch.Place(); got != "alder" {
		t.Errorf("in %q, want where the door is", got)
	}
}

// A slab that lies in the room cools, and does not chill; one that went into the cold
// and nobody said so, does.
func TestCoolingInTheRoomIsNoChill(t *testing.T) {
	for name, c := range map[string]struct {
		air, tau float64 // °C about the slab; hours
		heard    bool    // the room's probe
		chills   bool
	}{
		"in the room":                  {20, 1.4, true, false},
		"in the room, thick":           {20, 3, true, false},
		"in a fridge":                  {2, 1.4, true, true},
		"in a fridge, thick":           {2, 2.5, true, true},
		"nobody knows how warm it is":  {20, 1.4, false, true},
		"in the freezer":               {-19, 1.4, true, true},
		"in ice water, not yet steady": {0, 0.4, true, true},
	} {
		d := newDiary(t)
		if c.heard {
			d.batch.Tracks = append(d.batch.Tracks, newTrack(PlacedProbe{Probe: "room", Place: "larder", Placement: Ambient, Interval: 5 * minute}, d.batch.Plan))
		}
		s := cook(d)
		d.line("core", s, s+hour, minute, 62, 66)
		d.stage(s+hour, StageRest) // no time is given for it in this plan
		rang := 0
		for m := 1; m <= 120; m++ {
			at := s + hour + time.Duration(m)*minute
			if c.heard && m%5 == 0 {
				d.read("room", at, 20)
			}
			d.read("core", at, math.Round(10*(c.air+(66-c.air)*math.Exp(-float64(m)/60/c.tau)))/10)
			if f := d.seen(MeasureNoChill, at); f.State == Known && f.Value >= 30 {
				rang++
			}
		}
		if c.chills && rang > 0 || !c.chills && rang < 60 {
			t.Errorf("%s: not chilling in %d of two hours' minutes", name, rang)
		}
	}
}
