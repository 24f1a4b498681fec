package alerts

import (
	"slices"
	"strings"
	"testing"
	"time"
)

// catalogued returns one entry of the catalogue.
func catalogued(t *testing.T, id string) Entry {
	t.Helper()
	all := Catalogue(Electric)
	i := slices.IndexFunc(all, func(e Entry) bool { return e.ID == id })
	if i < 0 {
		t.Fatalf("no entry %s", id)
	}
	return all[i]
}

func TestCatalogueIsSound(t *testing.T) {
	for _, fuel := range []Fuel{Electric, Wood} {
		all := Catalogue(fuel)
		if err := CheckCatalogue(all); err != nil {
			t.Error(err)
		}
		var ids []string
		for _, e := range all {
			ids = append(ids, e.ID)
			for _, word := range []string{"safe", "cured"} {
				if text := strings.ToLower(e.Title + e.Says + e.Action); strings.Contains(text, word) {
					t.Errorf("%s says %q of a product", e.ID, word)
				}
			}
		}
		want := strings.Fields("C1 C2 C3 C4 C5 C6 C7 C7r C8 C9 K1 K2 K3 K4 H1 H2 H3 H4 H5 H6 H7 H8 H9 H10 H11 H12 H13 H14 H15 L1 L2 L3 L4 L5 B1 B2 B2u B3 B3f B4 B4s B1g B2g B4a B5 B5l B6 B6m B7d B7 B7c B7b B7k B7f B8 B9 B9d B10 B10s B10d")
		if !slices.Equal(ids, want) {
			t.Errorf("entries %v, want %v", ids, want)
		}
	}
}

// The limits of the trade, from the alarm table of the project, written out here
// a second time in the units a cook would use.
func TestCatalogueLimits(t *testing.T) {
	fahrenheit := func(c float64) float64 { return c*1.8 + 32 }
	for _, c := range []struct {
		what      string
		got, want float64
	}{
		{"C1 limit, °F", fahrenheit(catalogued(t, "C1").Triggers[0].Limit), 40},
		{"C1 clear, °F", fahrenheit(catalogued(t, "C1").Clear.Limit), 39},
		{"C2 limit, °F", fahrenheit(catalogued(t, "C2").Triggers[0].Limit), 41},
		{"C2 clear, °F", fahrenheit(catalogued(t, "C2").Clear.Limit), 40},
		{"C2 second, °C", catalogued(t, "C2").Triggers[1].Limit, 7.2},
		{"C4 limit, °F", fahrenheit(catalogued(t, "C4").Triggers[0].Limit), 34},
		{"C4 clear, °F", fahrenheit(catalogued(t, "C4").Clear.Limit), 35},
		{"H3 limit, °F", catalogued(t, "H3").Triggers[0].Limit * 1.8, 30},
		{"H3 clear, °F", catalogued(t, "H3").Clear.Limit * 1.8, 15},
		{"C5 limit, °F", fahrenheit(catalogued(t, "C5").Triggers[0].Limit), 29},
		{"C5 clear, °F", fahrenheit(catalogued(t, "C5").Clear.Limit), 31},
		{"C6 tell, min", catalogued(t, "C6").Triggers[0].Limit, 3},
		{"C6 ring, min", catalogued(t, "C6").Triggers[1].Limit, 10},
		{"C8 limit, °F", fahrenheit(catalogued(t, "C8").Triggers[0].Limit), 15},
		{"H2 limit, °F", catalogued(t, "H2").Triggers[0].Limit * 1.8, 30},
		{"H4 limit, °F", catalogued(t, "H4").Triggers[0].Limit * 1.8, 15},
		{"H6 tell, h", catalogued(t, "H6").Triggers[0].Limit, 4},
		{"H6 ring, h", catalogued(t, "H6").Triggers[1].Limit, 5},
		{"H7 limit, °F", catalogued(t, "H7").Triggers[0].Limit * 1.8, 5},
		{"H9 limit, °F", catalogued(t, "H9").Triggers[0].Limit * 1.8, 8},
		{"H10 limit, °F", catalogued(t, "H10").Triggers[0].Limit * 1.8, 4},
		{"H12 limit, °F", catalogued(t, "H12").Triggers[0].Limit * 1.8, 25},
		{"H14 limit, °F", fahrenheit(catalogued(t, "H14").Triggers[0].Limit), 90},
		{"L1 limit, min", catalogued(t, "L1").Triggers[0].Limit, 30},
		{"B8 next person, min", catalogued(t, "B8").Triggers[0].Limit, 10},
		{"B8 everybody, 15 min later", catalogued(t, "B8").Triggers[1].Limit, 25},
		{"B8 every way, 15 min later", catalogued(t, "B8").Triggers[2].Limit, 40},
		{"B8 again each, min", catalogued(t, "B8").Repeat.Minutes(), 15},
		{"B5 ring, min", catalogued(t, "B5").Triggers[1].Limit, 120},
	} {
		if d := c.got - c.want; d > 1e-9 || d < -1e-9 {
			t.Errorf("%s = %v, want %v", c.what, c.got, c.want)
		}
	}
	if d := catalogued(t, "H3").Triggers[0].For; d != 12*time.Minute {
		t.Errorf("electric waits %s, want 12 min", d)
	}
	wood := Catalogue(Wood)
	h3 := wood[slices.IndexFunc(wood, func(e Entry) bool { return e.ID == "H3" })]
	if d := h3.Triggers[0].For; d != 20*time.Minute {
		t.Errorf("wood waits %s, want 20 min", d)
	}
}

// The wall chart and the calls go by the same times.
func TestCallsGoByTheTimesOfB8(t *testing.T) {
	c := Call{Since: noon}
	for _, trigger := range catalogued(t, "B8").Triggers {
		if due := c.due(); due.Sub(noon).Minutes() != trigger.Limit {
			t.Errorf("step %d is due after %s, the chart says %g min", c.Step, due.Sub(noon), trigger.Limit)
		}
		c.Step++
	}
	if !c.due().IsZero() {
		t.Errorf("a step more than the chart has, at %s", c.due())
	}
}

func TestCheckCatalogueFinds(t *testing.T) {
	for want, spoil := range map[string]func(*Entry){
		"no action":                       func(e *Entry) { e.Action = " " },
		"no title":                        func(e *Entry) { e.Title = "" },
		"no measure":                      func(e *Entry) { e.Measure = "" },
		"no wording":                      func(e *Entry) { e.Says = "" },
		"no source":                       func(e *Entry) { e.Source = "" },
		"no ID":                           func(e *Entry) { e.ID = "" },
		"nothing fills":                   func(e *Entry) { e.Says = "{valve}" },
		"no trigger":                      func(e *Entry) { e.Triggers = nil },
		"trigger 2: no level":             func(e *Entry) { e.Triggers[1].Level = 0 },
		"looks the other way":             func(e *Entry) { e.Triggers[1].Below = true },
		"start what it should end":        func(e *Entry) { e.Clear.Limit = e.Triggers[0].Limit },
		"a sum needs":                     func(e *Entry) { e.Triggers[0].Sum = time.Hour },
		"of another level":                func(e *Entry) { e.Triggers[1].Sum, e.Triggers[1].Window = time.Hour, 2*time.Hour },
		"a time is negative":              func(e *Entry) { e.Repeat = -1 },
		"hides behind unknown Q9":         func(e *Entry) { e.HidesBehind = []string{"Q9"} },
		"hides behind itself in a circle": func(e *Entry) { e.HidesBehind = []string{"X1"} },
		"never repeats":                   func(e *Entry) { e.HidesBehind, e.Repeat = []string{"X1"}, 0 },
	} {
		e := warm()
		spoil(&e)
		if err := CheckCatalogue([]Entry{e}); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("err = %v, want %q", err, want)
		}
	}
	if err := CheckCatalogue([]Entry{warm(), warm()}); err == nil || !strings.Contains(err.Error(), "two entries") {
		t.Errorf("err = %v, want the double ID", err)
	}
	a, b := warm(), warm()
	a.ID, a.HidesBehind, b.ID, b.HidesBehind = "A", []string{"B"}, "B", []string{"A"}
	if err := CheckCatalogue([]Entry{a, b}); err == nil || strings.Count(err.Error(), "circle") != 2 {
		t.Errorf("err = %v, want the circle told of both", err)
	}
}

// A power cut that nobody answered swallows no later one.
func TestEachLatePowerCutIsTold(t *testing.T) {
	e, a, number := catalogued(t, "B5l"), new(Alarm), int64(0)
	raised := 0
	for m := range 3 * 24 * 60 {
		v := 0.0
		if m == 60 || m == 2*24*60 {
			v = 26
		}
		s := Signal{Subject: "fridge alder", At: noon.Add(time.Duration(m) * time.Minute), Value: v}
		for _, ev := range Step(e, a, s, func() int64 { number++; return number }) {
			if ev.Kind == Raised {
				raised++
			}
		}
	}
	if raised != 2 {
		t.Errorf("raised %d times, want 2", raised)
	}
}

func TestCatalogueStories(t *testing.T) {
	for name, c := range map[string]struct {
		id    string
		steps []step
	}{
		"H8: done, answered, asked no more": {"H8", []step{
			{0, 0, "normal"}, {1, 1, "active raised#1"}, {16, "tick", "active repeated#1"},
			{17, "ack", "pending acknowledged#1 cleared#1"}, {18, 1, "pending"}, {19, "over", "normal"},
		}},
		"B2: tell, then ring, one number": {"B2", []step{
			{0, 0, "normal"}, {30, 30, "active raised#1"}, {89, 89, "active"}, {90, 90, "active repeated#1"},
			{120, 120, "active worsened#1"}, {125, 0, "clearing"}, {130, 5, "clearing"}, {135, 0, "normal cleared#1"},
		}},
		"K1: due, stronger, turned": {"K1", []step{
			{0, 23.9, "normal"}, {6, 24, "active raised#1"}, {125, 26, "active"}, {126, 26, "active repeated#1"}, {246, 28, "active"},
			{726, 36, "active worsened#1"}, {846, 38, "active repeated#1"}, {966, 40, "active"}, {2285, 61.9, "active"}, {2286, 62, "active repeated#1"},
			{2300, "ack", "active acknowledged#1"}, {2540, 66.2, "active re-alarmed#1"}, {2660, 68.2, "active repeated#1"}, {2670, 0.1, "normal cleared#1"},
		}},
		"K4: fails, corrected; missing, gone on from": {"K4", []step{
			{0, 0, "normal"}, {1, 1, "active raised#1"}, {5, 0, "normal cleared#1"}, {30, 2, "active raised#2"}, {31, "ack", "active acknowledged#2"},
			{60, "over", "normal cleared#2"},
		}},
		"B9: overdue, checked; failed, checked": {"B9", []step{
			{0, -1, "normal"}, {1, 0, "active raised#1"}, {2, -30, "normal cleared#1"}, {3, 10000, "active raised#2"}, {4, "ack", "active acknowledged#2"},
			{5, "over", "normal cleared#2"},
		}},
		"B1: silent in a cook": {"B1", []step{
			{0, -5, "normal"}, {4, -1, "normal"}, {5, 0, "active raised#1"}, {6, -5, "clearing"}, {7, -5, "normal cleared#1"},
		}},
		"L2: two forecasts ten minutes apart": {"L2", []step{
			{0, 3, "pending"}, {1, -1, "normal"}, {2, 3, "pending"}, {7, 3, "pending"}, {12, 2, "active raised#1"},
			{13, -2, "active"}, {14, -6, "clearing"}, {18, -6, "clearing"}, {24, -6, "normal cleared#1"},
		}},
		"L3: missed stays missed": {"L3", []step{
			{0, -10, "normal"}, {10, 0, "normal"}, {11, 1, "active raised#1"}, {12, "ack", "active acknowledged#1"},
			{13, -1, "active"}, {14, "over", "normal cleared#1"},
		}},
	} {
		t.Run(name, func(t *testing.T) { story(t, catalogued(t, c.id), c.steps) })
	}
}
