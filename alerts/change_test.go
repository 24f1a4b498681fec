package alerts

import (
	"strings"
	"testing"
	"time"
)

func TestChanged(t *testing.T) {
	all := Catalogue(Wood)
	limit, clears, after, summed, within := 6.0, 5.0, 45*time.Minute, 3*time.Hour, 12*time.Hour
	e, err := Changed(all, Change{ID: "C2", Limit: &limit, Clears: &clears, After: &after, Summed: &summed, Within: &within, ClearsAfter: &after})
	want := Trigger{Limit: 6, For: 45 * time.Minute, Sum: 3 * time.Hour, Window: 12 * time.Hour, Level: Ring}
	if err != nil || e.Triggers[0] != want || e.Clear != (Clear{Limit: 5, For: 45 * time.Minute}) || !strings.HasPrefix(e.Source, "changed") {
		t.Errorf("%+v, %v", e, err)
	}
	before := catalogued(t, "C2")
	if e.Triggers[1] != before.Triggers[1] || catalogued(t, "C2").Triggers[0] == want {
		t.Error("what nobody changed has changed")
	}
	if e, err := Changed(all, Change{ID: "C2", Trigger: 2, Limit: &limit}); err != nil || e.Triggers[1].Limit != 6 || e.Triggers[0] != before.Triggers[0] {
		t.Errorf("second: %+v, %v", e, err)
	}
	low, minus := 3.0, -time.Minute
	for want, c := range map[string]Change{
		"no alarm":                 {ID: "Q1"},
		"no trigger 3":             {ID: "C2", Trigger: 3},
		"no trigger -1":            {ID: "C2", Trigger: -1},
		"say note, tell or ring":   {ID: "C1", Level: "loud"},
		"ended by a person":        {ID: "L3", Clears: &clears},
		"start what it should end": {ID: "C1", Limit: &low},
		"a sum needs":              {ID: "C1", After: &minus},
		"of another level":         {ID: "C2", Level: "tell"},
	} {
		if _, err := Changed(all, c); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%+v: %v, want %q", c, err, want)
		}
	}
}
