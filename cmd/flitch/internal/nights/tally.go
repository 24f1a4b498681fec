package nights

import (
	"cmp"
	"maps"
	"slices"
	"time"

	"flitch/alerts"
)

// A Told is how often a line of the catalogue told of something in quiet nights. Judged
// of them were compared with the meat, and True is how many were so.
type Told struct {
	Number int `json:"number"`
	Judged int `json:"judged,omitempty"`
	True   int `json:"true,omitempty"`

	All []alerts.Occurrence `json:"all"`
}

// report looks for each fault's alarm and for rings that had no reason.
func (y *year) report() *Report {
	all := slices.SortedFunc(maps.Values(y.Alarms), func(a, b alerts.Occurrence) int { return cmp.Compare(a.Number, b.Number) })
	r := &Report{Seed: y.Seed, Nights: y.Nights, Faults: y.faults, Dues: y.undisturbed(), False: []alerts.Occurrence{}, Tells: map[string]Told{}}
	for _, list := range [][]Fault{r.Faults, r.Dues} {
		for i := range list {
			list[i].find(all)
			r.Missed += list[i].missed()
		}
	}
	for _, o := range all {
		if y.prompt[o.Entry] || y.explained(o) {
			continue
		}
		switch o.Level {
		case alerts.Ring:
			r.False = append(r.False, o)
		case alerts.Tell:
			r.Tells[o.Entry] = y.told(r.Tells[o.Entry], o)
		}
	}
	r.Quiet = y.quiet()
	return r
}

func (y *year) told(t Told, o alerts.Occurrence) Told {
	t.Number++
	t.All = append(t.All, o)
	if is, judged := y.real[o.Number]; judged {
		t.Judged++
		if is {
			t.True++
		}
	}
	return t
}

// explained reports whether a fault was under way, or had been not long before: when it
// was raised, or when that began which it tells of. Summed warmth may be of a day.
func (y *year) explained(o alerts.Occurrence) bool {
	return slices.ContainsFunc(y.faults, func(f Fault) bool {
		after := func(t time.Time) bool { return !t.Before(f.At) && t.Before(f.Mended.Add(aftermath)) }
		return after(o.RaisedAt) || after(o.Since)
	})
}

// quiet is how many nights, in hours of 24, had no fault and none of its aftermath.
func (y *year) quiet() float64 {
	quiet, from := time.Duration(0), y.start
	for _, f := range y.faults { // in order of time
		if f.At.After(from) {
			quiet += f.At.Sub(from)
		}
		if end := f.Mended.Add(aftermath); end.After(from) {
			from = end
		}
	}
	if y.Now.After(from) {
		quiet += y.Now.Sub(from)
	}
	return quiet.Hours() / 24
}
