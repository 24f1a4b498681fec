package heat

import (
	"encoding/json"
	"math"
	"slices"
	"strings"
	"testing"

	"flitch/testdata/published"
)

// cooks reads the minutes of the labelled cooks, through the tests of one sample: a
// number like 85.0 or -127 between others is a code of the sensor.
func cooks(t *testing.T) map[string][]Minute {
	t.Helper()
	table, err := published.Read("cook_scenarios.csv")
	if err != nil {
		t.Fatal(err)
	}
	all := map[string][]Minute{}
	for _, row := range table.Rows {
		m := Minute{Min: row.Num(t, "minute"), ChamberC: row.NumOr(t, "chamber_C", math.NaN()), CoreC: row.NumOr(t, "core_C", math.NaN())}
		name := row.Text(t, "scenario")
		switch before := all[name]; {
		case math.IsNaN(m.CoreC):
			m.Flags |= NoCore
		case m.CoreC == -127, m.CoreC == 85 && len(before) > 0 && math.Abs(lastGood(before)-85) > 5:
			m.Flags |= BadCore
		}
		if math.IsNaN(m.ChamberC) {
			m.Flags |= NoChamber
		}
		all[name] = append(all[name], m)
	}
	return all
}

func lastGood(before []Minute) float64 {
	for _, m := range slices.Backward(before) {
		if m.Flags == 0 {
			return m.CoreC
		}
	}
	return math.NaN()
}

// watched is what a CookWatch said about a cook.
type watched struct {
	events   []CookEvent // newest state of each
	rejected []float64   // minutes whose core did not count
}

func watchCook(t *testing.T, minutes []Minute, target float64) watched {
	t.Helper()
	w, out := CookWatch{TargetC: target}, watched{}
	for _, m := range minutes {
		for _, e := range w.Add(m) {
			if !e.Open {
				i := slices.IndexFunc(out.events, func(o CookEvent) bool { return o.Open && o.Kind == e.Kind })
				if i < 0 {
					t.Fatalf("minute %v: %s cleared but not open", m.Min, e.Kind)
				}
				out.events[i] = e
				continue
			}
			out.events = append(out.events, e)
		}
		if !w.CoreCounts() {
			out.rejected = append(out.rejected, m.Min)
		}
	}
	return out
}

func (w watched) of(k Kind) (all []CookEvent) {
	for _, e := range w.events {
		if e.Kind == k {
			all = append(all, e)
		}
	}
	return all
}

// checkCooks holds what a CookWatch says against the label of each event, and then
// that it says nothing that has no label.
func checkCooks(c *published.Check) {
	said := map[string]watched{}
	for name, minutes := range cooks(c.T) {
		said[name] = watchCook(c.T, minutes, 0)
	}
	expected := map[string][]Kind{}
	for _, row := range c.Rows {
		name, event := row.Text(c.T, "scenario"), row.Text(c.T, "event")
		w, ok := said[name]
		if !ok {
			c.T.Fatalf("%s: no such scenario", row.Where())
		}
		if strings.HasPrefix(event, "true_core_reaches") {
			continue
		}
		l := label{row.Num(c.T, "true_start_min"), row.Num(c.T, "detect_from_min"), row.Num(c.T, "detect_by_min")}
		kinds, problem := l.judge(w, event)
		c.Holds(row, problem == "", "%s %s: %s; events %+v", name, event, problem, w.events)
		expected[name] = append(expected[name], kinds...)
	}
	for name, w := range said {
		for _, e := range w.events {
			// A stall in the story of a fire is there in truth, before the fire went out.
			before := e.Kind == Stall && strings.HasPrefix(name, "C3_fire") && e.Detected < 300
			if !slices.Contains(expected[name], e.Kind) && !before {
				c.T.Errorf("%s: %+v, where nothing such is", name, e)
			}
		}
	}
}

type label struct{ start, from, by float64 }

// judge returns the kinds of event a label is about, and what is wrong.
func (l label) judge(w watched, event string) (kinds []Kind, problem string) {
	switch event {
	case "stall":
		if len(w.of(Stuck)) > 0 { // the stuck probe hides it, and is labelled itself
			return nil, none(w, Stall)
		}
		return []Kind{Stall}, l.once(w, Stall)
	case "wrapped":
		if s := w.of(Stall); len(s) != 1 || s[0].Open || s[0].Cleared < l.from || s[0].Cleared > l.by {
			return nil, "stall not released in time"
		}
		return nil, none(w, Stuck)
	case "fire_out":
		for _, s := range w.of(Stall) {
			if s.Detected >= l.start {
				return nil, "stall started after it"
			}
		}
		return []Kind{FireOut}, l.once(w, FireOut)
	case "lid_open":
		for _, s := range w.of(Stall) {
			if math.Abs(s.Detected-l.start) < 10 || math.Abs(s.Cleared-l.start) < 10 {
				return nil, "stall started or ended beside it"
			}
		}
		return []Kind{LidOpen}, l.one(w, LidOpen)
	case "probe_pulled":
		for m := l.start; m < 250; m++ {
			if !slices.Contains(w.rejected, m) {
				return nil, "a reading of a pulled probe was believed"
			}
		}
		return []Kind{ProbeOut}, l.once(w, ProbeOut)
	case "core_stuck":
		return []Kind{Stuck}, l.once(w, Stuck)
	case "sentinels":
		for _, m := range []float64{50, 121, 122, 199, 260, 333} {
			if !slices.Contains(w.rejected, m) {
				return nil, "a code was believed"
			}
		}
		return []Kind{BadSample}, ""
	case "gap":
		return []Kind{Gap}, l.once(w, Gap)
	}
	return nil, "unknown event"
}

func none(w watched, k Kind) string {
	if len(w.of(k)) > 0 {
		return string(k) + ", which is not so"
	}
	return ""
}

// once asks for exactly one event of the kind, detected in the label's window.
func (l label) once(w watched, k Kind) string {
	if len(w.of(k)) != 1 {
		return "want exactly one"
	}
	return l.one(w, k)
}

func (l label) one(w watched, k Kind) string {
	for _, e := range w.of(k) {
		if e.Detected >= l.from && e.Detected <= l.by {
			return ""
		}
	}
	return "not detected in its window"
}

// A watch goes on from its JSON as if nothing had been, and its minutes need no memory.
func TestCookWatchKeeps(t *testing.T) {
	for name, minutes := range cooks(t) {
		var a, b CookWatch
		for i, m := range minutes {
			if i%60 == 0 {
				text, err := json.Marshal(a)
				if err != nil {
					t.Fatal(err)
				}
				b = CookWatch{}
				if err := json.Unmarshal(text, &b); err != nil {
					t.Fatal(err)
				}
			}
			if x, y := a.Add(m), b.Add(m); !slices.Equal(x, y) || a.CoreCounts() != b.CoreCounts() {
				t.Fatalf("%s minute %v: %v, from JSON %v", name, m.Min, x, y)
			}
		}
	}
	var w CookWatch
	m := Minute{ChamberC: 120}
	if n := testing.AllocsPerRun(500, func() { m.Min++; m.CoreC = 20 + 0.1*m.Min; w.Add(m) }); n != 0 {
		t.Errorf("%v allocations a minute", n)
	}
}

// Trouble of the core does not hide a fire that goes out.
func TestFireOutWithStuckProbe(t *testing.T) {
	stuck := cooks(t)["C7_stuck"]
	for i := range stuck {
		if m := &stuck[i]; m.Min > 400 {
			m.ChamberC = 22 + (m.ChamberC-22)*math.Exp(-(m.Min-400)/60)
		}
	}
	w := watchCook(t, stuck, 0)
	if out := w.of(FireOut); len(out) != 1 || out[0].Detected < 400 || out[0].Detected > 420 {
		t.Errorf("fire-out %+v, want one in minutes 400 to 420", out)
	}
}

// A lid that never comes back is a fire that went out.
func TestLidLost(t *testing.T) {
	minutes := cooks(t)["C1_stall"][:400]
	for i := range minutes {
		if m := &minutes[i]; m.Min >= 300 {
			m.ChamberC = 60
		}
	}
	w := watchCook(t, minutes, 0)
	lid, fire := w.of(LidOpen), w.of(FireOut)
	if len(lid) != 1 || lid[0].Detected != 300 || lid[0].Open || len(fire) != 1 || fire[0].Detected != 325 || fire[0].From != 300 {
		t.Errorf("lid %+v, fire %+v; want 300, and 325 from 300", lid, fire)
	}
}

// A coarse probe on a slow core stands still honestly for more than 20 minutes.
func TestCoarseProbeIsNotStuck(t *testing.T) {
	var w CookWatch
	for m := range 300 {
		core := 55 + math.Floor(float64(m)/30)/2 // 1 K/h in steps of half a degree
		for _, e := range w.Add(Minute{Min: float64(m), ChamberC: 115, CoreC: core}) {
			if e.Kind == Stuck {
				t.Fatalf("%+v", e)
			}
		}
	}
}

// Minutes out of order and numbers that are none change nothing and earn nothing.
func TestCookWatchLeavesOut(t *testing.T) {
	var w CookWatch
	for m := range 40 {
		w.Add(Minute{Min: float64(m), ChamberC: 110, CoreC: 30 + 0.1*float64(m)})
	}
	before := w
	for _, m := range []Minute{{Min: 39, ChamberC: 50, CoreC: 90}, {Min: 12, CoreC: 90}, {Min: math.NaN(), CoreC: 90}} {
		if e := w.Add(m); len(e) > 0 || w != before {
			t.Errorf("%+v was taken: %v", m, e)
		}
	}
	if w.Add(Minute{Min: 40, ChamberC: math.NaN(), CoreC: math.Inf(1)}); w.CoreCounts() {
		t.Error("an infinite core counts")
	}
}

// pulled is a cook whose probe is out for ten minutes and comes back some K away.
func pulled(w *CookWatch, awayK float64) {
	for m := range 200 {
		core := 50 + 0.05*float64(m)
		switch {
		case m >= 100:
			core += awayK
		case m >= 90:
			core = 21
		}
		w.Add(Minute{Min: float64(m), ChamberC: 110, CoreC: core})
	}
}

// A pulled probe that comes back in a colder place is in again after a quarter of
// an hour: what it reads is careful.
func TestReinsertedColder(t *testing.T) {
	var w CookWatch
	pulled(&w, -5)
	if w.Out.Open || !w.CoreCounts() || w.Out.To != 100 || w.Out.Cleared != 115 {
		t.Errorf("out %+v", w.Out)
	}
}

// One that comes back warmer stays out: it may hang in the air.
func TestReinserted(t *testing.T) {
	var w CookWatch
	pulled(&w, 5)
	if !w.Out.Open || w.CoreCounts() {
		t.Errorf("out %+v", w.Out)
	}
}

// A probe that hangs in air that stays the same is not in again because the forecast of
// the core climbs, or falls, to what it reads.
func TestForecastThatPassesAHungProbe(t *testing.T) {
	for name, c := range map[string]struct{ from, perMin, hung float64 }{
		"rising to 64": {50, 0.3, 64}, "rising to 70": {45, 0.3, 70}, "falling to 20": {50, -0.2, 20},
	} {
		var w CookWatch
		for m := range 400 {
			minute := Minute{Min: float64(m), ChamberC: 80, CoreC: c.from + c.perMin*float64(m) + 0.1*float64(m%2)}
			if c.perMin < 0 {
				minute.ChamberC, minute.Flags = 4, Unlit
			}
			if m >= 30 {
				minute.CoreC = c.hung + 0.4*math.Sin(float64(m))
			}
			w.Add(minute)
			if m > 31 && w.CoreCounts() {
				t.Errorf("%s: believed at minute %d, out %+v", name, m, w.Out)
				break
			}
		}
	}
}

func BenchmarkCookWatch(b *testing.B) {
	var w CookWatch
	m := Minute{ChamberC: 115}
	b.ReportAllocs()
	for b.Loop() {
		m.Min++
		m.CoreC = 55 + math.Sin(m.Min)/10
		w.Add(m)
	}
}

// A probe that slips into air about as warm as the meat makes no jump: it follows the
// chamber, faster than meat can.
func TestProbeCreepsOut(t *testing.T) {
	var w CookWatch
	chamber := func(m int) float64 { return math.Min(110, 60+3.5*math.Max(0, float64(m-60))) }
	for m := range 80 {
		core := 50 + 0.15*float64(m) + 0.1*float64(m%2)
		if m >= 62 {
			core = chamber(m) - 3 // a probe's lag behind the air
		}
		w.Add(Minute{Min: float64(m), ChamberC: chamber(m), CoreC: core})
	}
	if !w.Out.Open || w.Out.From > 64 || w.Out.Detected > 65 || w.CoreCounts() {
		t.Errorf("out %+v", w.Out)
	}
}

// A core of known size that goes farther than it can, though never far in one minute, is
// a probe on its way out: since it began. Noise, and one that stays within its size, is
// not; nor is anything when the size is unknown.
func TestACoreBeyondItsCeiling(t *testing.T) {
	for name, c := range map[string]struct {
		rateMax, perMin float64
		told            bool
	}{
		"1.3 K/min, at most 0.5": {0.5, 1.3, true}, "0.45 K/min, at most 0.5": {0.5, 0.45, false},
		"1.3 K/min, size unknown": {0, 1.3, false}, "1.3 K/min, at most 2.4": {2.4, 1.3, false}, "falls": {0.5, -1.3, true},
	} {
		w := CookWatch{RateMax: c.rateMax}
		counted := 0.0
		for m := range 75 {
			core := 50 + 0.05*float64(m) + 0.3*float64(m%2) + c.perMin*math.Max(0, float64(m-60))
			w.Add(Minute{Min: float64(m), ChamberC: 110, CoreC: core})
			if w.CoreCounts() {
				counted = float64(m)
			}
		}
		if w.Out.Open != c.told {
			t.Errorf("%s: out %+v", name, w.Out)
		}
		if c.told && (w.Out.From < 60 || w.Out.From > 63 || w.Out.Detected > 68 || counted > 62) {
			t.Errorf("%s: out from %g, detected %g, last counted %g", name, w.Out.From, w.Out.Detected, counted)
		}
	}
}
