package process

import (
	"encoding/json"
	"iter"
	"math"
	"reflect"
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// A tale is a batch told by chance: a cure, a cook and a chill whose probes wander,
// jump, fall silent and lie now and then.
func tale(rt *rapid.T) []Input {
	d := newDiary(&testing.T{})
	random := func(low, high float64) float64 { return rapid.Float64Range(low, high).Draw(rt, "value") }
	at := time.Duration(0)
	wander := func(probes map[string]float64, steps int, every time.Duration, drift float64) {
		for range steps {
			at += every
			for _, probe := range slices.Sorted(mapsKeys(probes)) {
				probes[probe] += drift + random(-1, 1)
				v := probes[probe]
				switch rapid.IntRange(0, 30).Draw(rt, "luck") {
				case 0:
					continue // nothing came
				case 1:
					v += random(-40, 40) // a spike, or the start of a pulled probe
					if rapid.Bool().Draw(rt, "stays") {
						probes[probe] = v
					}
				}
				d.read(probe, at, math.Round(v*10)/10)
			}
		}
	}
	wander(map[string]float64{"slow": 3}, rapid.IntRange(5, 40).Draw(rt, "cure"), 10*minute, 0)
	d.say(at, Command{Kind: CommandStage, Stage: StageRinse})
	at += minute
	d.say(at, Command{Kind: CommandStage, Stage: StageSmoke})
	wander(map[string]float64{"core": 40, "chamber": 95}, rapid.IntRange(30, 120).Draw(rt, "cook"), minute, 0.2)
	d.say(at, Command{Kind: CommandStage, Stage: StageChill})
	if rapid.Bool().Draw(rt, "checked") {
		at += time.Second
		for _, probe := range []string{"core", "slow"} {
			d.checked(at, at, CheckSaid{Probe: probe, Method: CheckIce, ReadC: random(-2.5, 2.5), Correct: rapid.Bool().Draw(rt, "corrected")})
		}
	}
	wander(map[string]float64{"core": 62, "slow": 4}, rapid.IntRange(10, 60).Draw(rt, "chill"), 3*minute, -0.4)
	return d.log
}

func mapsKeys(m map[string]float64) iter.Seq[string] {
	return func(yield func(string) bool) {
		for k := range m {
			if !yield(k) {
				return
			}
		}
	}
}

// played runs a log; after marks the inputs behind which the daemon was started anew.
func played(t *rapid.T, log []Input, restart func(n int) bool) *Batch {
	b := Start(log[0])
	var found []Finding
	for n, in := range log[1:] {
		found = Step(b, in, found[:0])
		if !restart(n) {
			continue
		}
		state, err := json.Marshal(b)
		if err != nil {
			t.Fatal(err)
		}
		b = new(Batch)
		if err := json.Unmarshal(state, b); err != nil {
			t.Fatal(err)
		}
	}
	return b
}

func never(int) bool { return false }

// A batch started anew after any inputs says what one never stopped says.
func TestRestartsChangeNothing(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		log := tale(rt)
		every := rapid.IntRange(1, 40).Draw(rt, "restart")
		a, b := played(rt, log, never), played(rt, log, func(n int) bool { return n%every == 0 })
		if x, y := a.Clocks(a.Now), b.Clocks(b.Now); !reflect.DeepEqual(x, y) {
			rt.Fatalf("never stopped:\n%+v\nrestarted:\n%+v", x, y)
		}
		if !reflect.DeepEqual(a.Estimates(), b.Estimates()) {
			rt.Fatalf("estimates differ")
		}
	})
}

// A recount of the log in its own order is the batch: the log tells everything.
func TestRecountIsReplay(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		log := tale(rt)
		a := played(rt, log, never)
		b := Recount(log[0], byEventTime(log[1:]))
		if x, y := a.Clocks(a.Now), b.Clocks(a.Now); !reflect.DeepEqual(x, y) {
			rt.Fatalf("as it came:\n%+v\nrecounted:\n%+v", x, y)
		}
	})
}

// Readings that are none (bad, no number, infinite, told twice, a code, out of range)
// never move a verdict toward met.
func TestRubbishNeverHelpsAVerdict(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		log := tale(rt)
		clean := played(rt, log, never)
		dirty := log[:1:1]
		for _, in := range log[1:] {
			dirty = append(dirty, in)
			if in.Kind != InputReading || !rapid.Bool().Draw(rt, "rubbish") {
				continue
			}
			bad := in
			bad.At = in.At.Add(time.Second)
			bad.Reading.Measured, bad.Reading.Received = bad.At, bad.At
			switch rapid.IntRange(0, 5).Draw(rt, "kind") {
			case 4:
				bad.Reading.Value = -127
			case 5:
				bad.Reading.Value = 500
			case 0:
				bad.Reading.Quality, bad.Reading.Value = Bad, 75
			case 1:
				bad.Reading.Value = math.NaN()
			case 2:
				bad.Reading.Value = math.Inf(1)
			case 3:
				bad = in // told twice
			}
			dirty = append(dirty, bad)
		}
		got := played(rt, dirty, never)
		after := got.Clocks(clean.Now)
		for i, c := range clean.Clocks(clean.Now) {
			if after[i].Verdict == Met && c.Verdict != Met {
				rt.Fatalf("%s: %q, with rubbish %q:\n%+v\n%+v", c.Name, c.Verdict, after[i].Verdict, c, after[i])
			}
		}
	})
}
