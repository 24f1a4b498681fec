package api

import (
	"errors"
	"flag"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"flitch/alerts"
	"flitch/process"
)

var update = flag.Bool("update", false, "write the names of the figures anew, to be read before they are believed")

// What is deployed to watch flitch asks for figures by name: those names are a file, held
// against what is exposed.
func TestTheFiguresAreThoseThatAreWatched(t *testing.T) {
	const file = "../../../../deploy/prometheus/metrics.txt"
	m := NewMetrics(&house{}, "v0", func() (time.Time, bool) { return night, true })
	m.Heard([]process.Reading{{Probe: "needle-1", Measured: night}})
	m.Rejected("no number")
	m.EngineFault(errors.New("x"))
	m.AlarmCounts(map[AlarmGroup]int{{alerts.Ring, "active"}: 1})
	m.Sent("phone", alerts.Settlement{Outcome: alerts.Delivered}, time.Second)
	m.LeftOut = func() []ProbeFlags { return []ProbeFlags{{"needle-1", "spike", 4}} }
	m.Fleet([]string{"unreachable"})
	m.FleetTold(3, 5, time.Minute, night, "unreachable")
	var names []string
	for line := range strings.Lines(scrape(t, m)) {
		if name := line[:strings.IndexAny(line, " {")]; strings.HasPrefix(name, "flitch_") {
			names = append(names, name)
		}
	}
	slices.Sort(names)
	got := strings.Join(slices.Compact(names), "\n") + "\n"
	if *update {
		if err := os.WriteFile(file, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(file)
	if err != nil || got != string(want) {
		t.Errorf("exposed:\n%s\nin the file: %s, %v", got, want, err)
	}
}
