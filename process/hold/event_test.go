package hold

import (
	"encoding/json"
	"math"
	"slices"
	"testing"

	"flitch/testdata/published"
)

func fridges(t *testing.T) map[string][]AirAt {
	t.Helper()
	table, err := published.Read("fridge_scenarios.csv")
	if err != nil {
		t.Fatal(err)
	}
	all := map[string][]AirAt{}
	for _, row := range table.Rows {
		name := row.Text(t, "scenario")
		all[name] = append(all[name], AirAt{row.Num(t, "minute"), row.Num(t, "air_C")})
	}
	return all
}

// held is what a FridgeWatch said about a fridge.
type held struct {
	events  map[Kind]int
	first   map[Kind]Event
	alarmed []Alarm
	warned  []float64
	watch   FridgeWatch
}

func watchFridge(air []AirAt, tauMin float64) held {
	h := held{events: map[Kind]int{}, first: map[Kind]Event{}, watch: FridgeWatch{TauMin: tauMin}}
	w := &h.watch
	on := false
	for _, a := range air {
		for _, e := range w.Add(a.Min, a.C) {
			if e.Open || e.Detected == e.Cleared { // begun, or told when it was over
				h.events[e.Kind]++
				if _, ok := h.first[e.Kind]; !ok {
					h.first[e.Kind] = e
				}
			}
		}
		if w.Alarm.On && !on {
			h.alarmed = append(h.alarmed, w.Alarm)
		}
		if w.Warned && w.WarnedMin == a.Min {
			h.warned = append(h.warned, a.Min)
		}
		on = w.Alarm.On
	}
	return h
}

// checkFridges holds the alarm against the label, and that each story was told as
// what it is and as nothing else.
func checkFridges(c *published.Check) {
	stories := map[string]struct {
		kind  Kind
		times int     // at least
		by    float64 // minute by which it must be said
	}{
		"F1_normal":          {},
		"F2_door_often":      {kind: DoorOpen, times: 3, by: 320},
		"F3_defrost_8h":      {kind: Defrost, times: 6, by: 240},
		"F4_door_ajar":       {kind: DoorAjar, times: 1, by: 632},
		"F5_compressor_fail": {kind: Failure, times: 1, by: 1450},
		"F6_set_too_warm":    {kind: TooWarm, times: 1, by: 632},
	}
	air := fridges(c.T)
	for _, row := range c.Rows {
		name := row.Text(c.T, "scenario")
		story, ok := stories[name]
		if !ok || air[name] == nil {
			c.T.Fatalf("%s: no such scenario", row.Where())
		}
		h := watchFridge(air[name], row.Num(c.T, "tau_min"))
		want := row.Text(c.T, "expected") == "ALARM"
		c.Holds(row, (len(h.alarmed) > 0) == want, "alarms %+v, want %v", h.alarmed, want)
		right := h.events[story.kind] >= story.times && (story.times == 0 || h.first[story.kind].Detected <= story.by)
		for k := range h.events {
			right = right && k == story.kind
		}
		c.Holds(row, right, "told as %v, first %+v", h.events, h.first)
		c.Holds(row, len(h.warned) == 0 || name == "F4_door_ajar", "warned of a door at %v", h.warned)
	}
}

// The product must be estimated as the scenario's own truth has it: the air was
// rounded to 0.1 K and sampled each two minutes.
func TestProductOfScenarios(t *testing.T) {
	table, err := published.Read("fridge_scenarios.csv")
	if err != nil {
		t.Fatal(err)
	}
	var w FridgeWatch
	worst, name := 0.0, ""
	for _, row := range table.Rows {
		air, truth := row.Num(t, "air_C"), row.Num(t, "product_true_C")
		if row.Text(t, "scenario") != name {
			name, w = row.Text(t, "scenario"), FridgeWatch{TauMin: 150}
			w.BeginAt(row.Num(t, "minute"), truth, air)
			continue
		}
		w.Add(row.Num(t, "minute"), air)
		worst = max(worst, math.Abs(w.Product.ProductC-truth))
	}
	t.Logf("worst %.3f K", worst)
	if worst > 0.1 {
		t.Errorf("product off by %.3f K, want within 0.1", worst)
	}
}

// plateau makes air each minute: 3 °C, and from minute 60 on what is given.
func plateau(then func(since float64) float64, minutes int) []AirAt {
	var air []AirAt
	for m := range minutes {
		c := 3.0
		if m >= 60 {
			c = then(float64(m - 60))
		}
		air = append(air, AirAt{float64(m), c})
	}
	return air
}

func TestWarnsBeforeAjar(t *testing.T) {
	h := watchFridge(plateau(func(float64) float64 { return 14 }, 120), 90)
	if len(h.warned) != 1 || h.warned[0] != 80 || h.first[DoorAjar].Detected != 90 {
		t.Errorf("warned %v, ajar %+v; want 80 and 90", h.warned, h.first[DoorAjar])
	}
	// A small rise may be a defrost, and gets the forty minutes of one.
	h = watchFridge(plateau(func(float64) float64 { return 8 }, 120), 90)
	if len(h.warned) != 1 || h.warned[0] != 100 || h.first[DoorAjar].Detected != 100 {
		t.Errorf("small rise: warned %v, ajar %+v; want both at 100", h.warned, h.first[DoorAjar])
	}
}

// Hot air alone is an alarm only from 15 minutes on; a product nobody described
// takes longer than that to warm.
func TestHotAir(t *testing.T) {
	for minutes, want := range map[float64]int{14: 0, 16: 1} {
		h := watchFridge(plateau(func(m float64) float64 {
			if m < minutes {
				return 15.5
			}
			return 3
		}, 200), 600)
		if len(h.alarmed) != want {
			t.Errorf("air over 15 °C for %v min: alarms %+v, want %d", minutes, h.alarmed, want)
		}
	}
}

// An alarm ends half an hour after its last reason.
func TestAlarmEnds(t *testing.T) {
	h := watchFridge(plateau(func(m float64) float64 {
		if m < 16 {
			return 15.5
		}
		return 3
	}, 90), 600)
	if !h.watch.Alarm.On {
		t.Error("ended at once")
	}
	for m := 90.0; m < 120; m++ {
		h.watch.Add(m, 3)
	}
	if h.watch.Alarm.On {
		t.Error("never ended")
	}
}

// A watch goes on from its JSON as if nothing had been, and its steps need no memory.
func TestFridgeWatchKeeps(t *testing.T) {
	air := fridges(t)["F4_door_ajar"]
	var a, b FridgeWatch
	for i, s := range air {
		if i%100 == 0 {
			text, err := json.Marshal(a)
			if err != nil {
				t.Fatal(err)
			}
			b = FridgeWatch{}
			if err := json.Unmarshal(text, &b); err != nil {
				t.Fatal(err)
			}
		}
		x, y := a.Add(s.Min, s.C), b.Add(s.Min, s.C)
		if !slices.Equal(x, y) || a.Alarm != b.Alarm {
			t.Fatalf("minute %v: %v %v, from JSON %v %v", s.Min, x, a.Alarm, y, b.Alarm)
		}
	}
	i := 0
	if n := testing.AllocsPerRun(500, func() { i++; a.Add(air[len(air)-1].Min+float64(i), 3) }); n != 0 {
		t.Errorf("%v allocations a sample", n)
	}
}

// Air that is no number, or comes twice, changes nothing.
func TestFridgeWatchLeavesOut(t *testing.T) {
	var w FridgeWatch
	w.Add(0, 3)
	w.Add(1, 3)
	before := w
	for _, bad := range []AirAt{{2, math.NaN()}, {math.Inf(1), 3}, {1, 20}, {0.5, 20}} {
		if e := w.Add(bad.Min, bad.C); len(e) > 0 || w != before {
			t.Errorf("%+v changed the watch", bad)
		}
	}
}

func BenchmarkFridgeWatch(b *testing.B) {
	var w FridgeWatch
	b.ReportAllocs()
	m := 0.0
	for b.Loop() {
		m++
		w.Add(m, 3+math.Sin(m/8))
	}
}
