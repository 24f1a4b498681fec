package record

import (
	"strings"
	"testing"
	"time"

	"flitch/process"
)

func TestChartIsWellFormed(t *testing.T) {
	r := sample(t)
	r.Sets = []Setting{{Name: "set <&>", C: 82, From: at("22:00").Add(-24 * time.Hour)}}
	for _, v := range []View{{}, {Width: 340, Height: 300}, {From: at("00:00"), To: at("02:30")}, {From: at("08:30"), To: at("08:30")}} {
		var b strings.Builder
		if err := r.Chart(&b, v); err != nil {
			t.Fatal(err)
		}
		wellFormed(t, []byte(b.String()))
		if strings.Contains(b.String(), "NaN") || strings.Contains(b.String(), "Inf") {
			t.Errorf("%+v: the picture holds a number that is none", v)
		}
	}
}

func TestBadAndTypedReadingsAreNotPartOfALine(t *testing.T) {
	r := sample(t)
	rows := []Row{row(at("00:00"), "p", process.Core, "A", 20), row(at("00:01"), "p", process.Core, "A", 85), row(at("00:02"), "p", process.Core, "A", 70)}
	rows[1].Quality, rows[2].Source = process.Bad, Entered
	r.Readings = func(yield func(Row) error) error { return yieldAll(rows, yield) }
	lines, err := r.lines()
	if err != nil {
		t.Fatal(err)
	}
	pieces := lines[0].Readings.Pieces(at("00:00"), at("01:00"), time.Minute, time.Hour)
	if len(lines) != 1 || len(pieces) != 1 || len(pieces[0]) != 1 || pieces[0][0].V != 20 {
		t.Errorf("got %+v, want the one good reading", pieces)
	}
}

func TestAxisShowsTheSitesUnit(t *testing.T) {
	for fahrenheit, want := range map[bool]string{false: ">°C<", true: ">°F<"} {
		r := sample(t)
		r.Site.Fahrenheit = fahrenheit
		var b strings.Builder
		if err := r.Chart(&b, View{}); err != nil {
			t.Fatal(err)
		}
		if !strings.Contains(b.String(), want) {
			t.Errorf("Fahrenheit %v: no axis label %s", fahrenheit, want)
		}
	}
}

// What people did stands in the chart, each thing once.
func TestTheChartHasWhatPeopleDid(t *testing.T) {
	r := sample(t)
	r.Doses = []process.DoseEntry{{At: at("20:00").Add(-24 * time.Hour)}}
	r.Entries = append(r.Entries, Entry{Kind: process.CommandTurned, Happened: at("20:30").Add(-24 * time.Hour)})
	c := r.Temperatures(View{}, nil)
	letters := ""
	for _, e := range c.Events {
		letters += e.Letter
	}
	if letters != "NNTD" || len(c.Typed) != 1 || len(c.Alarms) != 1 || len(c.Stages) != 3 || len(c.Limits) != 2 {
		t.Errorf("events %q, %d typed, %d alarms, %d stages, %d limits", letters, len(c.Typed), len(c.Alarms), len(c.Stages), len(c.Limits))
	}
}

// Whatever is asked for, a chart is of the batch's time: a window to the end of the
// calendar would be ticked hour by hour.
func TestTheWindowIsTheBatchs(t *testing.T) {
	r := sample(t)
	whole := r.window(View{})
	far := View{From: time.Date(1, 1, 1, 0, 0, 0, 0, time.UTC), To: time.Date(9999, 1, 1, 0, 0, 0, 0, time.UTC)}
	if got := r.window(far); got != whole || !got.From.Equal(r.Head.Started) || !got.To.Equal(r.MadeAt) {
		t.Errorf("%v, want %v", got, whole)
	}
	r.Head.Closed = at("03:00")
	if got := r.window(far); !got.To.Equal(r.Head.Closed) {
		t.Errorf("closed: %v", got)
	}
}
