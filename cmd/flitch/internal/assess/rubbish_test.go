package assess

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"flitch/process"
	"flitch/testdata/published"
)

// A written is one row as a logger wrote it.
type written struct {
	at           time.Time
	probe, place string
	value        float64
}

func (w written) line(value, unit string) string {
	return fmt.Sprintf("%s,%s,%s,%s,%s\n", w.at.Format(time.RFC3339), w.place, value, unit, w.probe)
}

func (w written) good() string { return w.line(fmt.Sprintf("%.2f", w.value), "C") }

// rubbish is what a good row may become.
var rubbish = map[string]func(written) string{
	"NaN":        func(w written) string { return w.line("NaN", "C") },
	"blank":      func(w written) string { return w.line("", "C") },
	"wrong unit": func(w written) string { return w.line(fmt.Sprintf("%.2f", w.value), "V") },
	"per cent":   func(w written) string { return w.line(fmt.Sprintf("%.2f", w.value), "%") },
	"sentinel":   func(w written) string { return w.line("-127", "C") },
	"torn":       func(w written) string { return w.good()[:len("2031-01-01T00:00:00Z,co")] + "\n" },
	"cut short":  func(w written) string { return strings.Join(strings.Split(w.good(), ",")[:3], ",") + "\n" },
	"disagree":   func(w written) string { return w.good() + w.line(fmt.Sprintf("%.2f", w.value+3), "C") },
}

const (
	cureLasts   = 24 * time.Hour
	ofTheCook   = 200 // minutes of it that are told
	ofTheChill  = 900 // the same
	namedHeader = "time,placement,value,unit,probe\n"
)

// A story is a recorded batch: a cure of a day in the fridge, a cook and a chill, of
// the check tables. Two cores are told; the others may be made worse.
type story struct {
	cookSlower, chillSlower time.Duration // of one of them
	bottle                  func(hour, value float64) float64
	second                  func(value float64) float64
}

// told writes down the story, and what a person said.
func (s story) told(t *testing.T) (rows []written, events string) {
	t.Helper()
	add := func(after time.Duration, probe, place string, value float64) {
		rows = append(rows, written{began.Add(after), probe, place, value})
	}
	cores := func(after time.Duration, value float64) {
		add(after, "first", "core", value)
		add(after, "second", "core", s.second(value-0.6))
	}
	each(t, "fridge_scenarios.csv", "F1_normal", 20, func(minute int, row published.Row) {
		if after := time.Duration(minute) * time.Minute; after < cureLasts {
			add(after, "air", "air", row.Num(t, "air_C"))
			add(after, "bottle", "product", s.bottle(after.Hours(), row.Num(t, "product_true_C")))
		}
	})
	each(t, "cook_scenarios.csv", "C2_no_stall", 4, func(minute int, row published.Row) {
		if minute <= ofTheCook {
			after := cureLasts + time.Duration(minute)*time.Minute*s.cookSlower
			add(after, "chamber", "chamber", row.Num(t, "chamber_C"))
			cores(after, row.Num(t, "core_C"))
		}
	})
	out := cureLasts + ofTheCook*time.Minute*s.cookSlower
	each(t, "cool_scenarios.csv", "K2_ham_fridge", 4, func(minute int, row published.Row) {
		if minute <= ofTheChill {
			after := out + time.Duration(minute+4)*time.Minute*s.chillSlower
			add(after, "air", "air", row.Num(t, "air_C"))
			cores(after, row.Num(t, "core_C"))
		}
	})
	return rows, fmt.Sprintf("time,event,detail\n%s,stage,cure\n%s,turned,\n%s,stage,cook\n%s,stage,chill\n", began.Format(time.RFC3339),
		began.Add(cureLasts/2).Format(time.RFC3339), began.Add(cureLasts).Format(time.RFC3339), began.Add(out+time.Minute).Format(time.RFC3339))
}

// each calls do for the rows of a scenario that are so many minutes apart.
func each(t *testing.T, file, scenario string, minutes int, do func(minute int, row published.Row)) {
	t.Helper()
	table, err := published.Read(file)
	if err != nil {
		t.Fatal(err)
	}
	for _, row := range table.Rows {
		if minute := int(row.Num(t, "minute")); row.Text(t, "scenario") == scenario && minute%minutes == 0 {
			do(minute, row)
		}
	}
}

// spoilt writes the file with some of the rows of a probe made into rubbish.
func spoilt(rows []written, probe string, make func(written) string, stretch string) string {
	total, n := 0, 0
	for _, w := range rows {
		if w.probe == probe {
			total++
		}
	}
	from, to := map[string]int{"beginning": 0, "middle": total / 3, "end": 2 * total / 3, "all": 0}[stretch], total
	if stretch != "all" {
		to = from + total/3 + 1
	}
	var text strings.Builder
	text.WriteString(namedHeader)
	for _, w := range rows {
		if w.probe != probe {
			text.WriteString(w.good())
			continue
		}
		if n >= from && n < to {
			text.WriteString(make(w))
		} else {
			text.WriteString(w.good())
		}
		n++
	}
	return text.String()
}

// asItWas and worse are the stories, and the clock that each of the worse ones misses.
var (
	asItWas = story{1, 1, func(_, v float64) float64 { return v }, func(v float64) float64 { return v }}
	worse   = map[process.ClockName]func(*story){
		process.ClockCold: func(s *story) {
			s.bottle = func(hour, v float64) float64 {
				if hour > 9 && hour < 15 {
					return v + 4
				}
				return v
			}
		},
		process.ClockLethality: func(s *story) { s.second = func(v float64) float64 { return min(v, 52) } },
		process.ClockChillA:    func(s *story) { s.chillSlower = 2 },
		process.ClockComeUp:    func(s *story) { s.cookSlower = 4 },
	}
)

// quickPlan asks for a cure that a day is enough for, and forecasts neither it nor the
// cook: that takes the time of the test.
func quickPlan(t *testing.T) process.Plan {
	p := plan(t, "B3")
	p.Cure.Days, p.Cure.Water = 0.8, 0
	for i := range p.Stages {
		p.Stages[i].CoreC = 0
	}
	return p
}

// decisive are the clocks that a stretch of a probe decides.
func decisive(probe, stretch string) []process.ClockName {
	core := probe == "first" || probe == "second"
	switch {
	case probe == "bottle":
		return coldClocks
	case core && stretch == "beginning":
		return []process.ClockName{process.ClockLethality}
	case core && stretch == "middle":
		return []process.ClockName{process.ClockChillA}
	case core && stretch == "end":
		return []process.ClockName{process.ClockChillB}
	case core:
		return []process.ClockName{process.ClockComeUp, process.ClockLethality, process.ClockChillA, process.ClockChillB}
	}
	return nil
}

// A good batch that was not read is not a good batch: each clock that a spoilt stretch
// decides is not met any more.
func TestWhatIsSpoiltIsNotMet(t *testing.T) {
	rows, events := asItWas.told(t)
	p := quickPlan(t)
	before := assessed(t, p, spoilt(rows, "", nil, "all"), events)
	for _, c := range before.Clocks {
		if c.Verdict != process.Met && c.Name != process.ClockKeep {
			t.Fatalf("the batch is not good: %+v", c)
		}
	}
	for _, probe := range []string{"bottle", "second"} {
		for kind := range rubbish {
			t.Run(kind+" "+probe+" all", func(t *testing.T) { decided(t, p, rows, events, probe, kind, "all") })
		}
		for stretch, kind := range map[string]string{"beginning": "NaN", "middle": "disagree", "end": "torn"} {
			t.Run(kind+" "+probe+" "+stretch, func(t *testing.T) { decided(t, p, rows, events, probe, kind, stretch) })
		}
	}
	if c := clock(t, assessed(t, p, spoilt(rows, "air", rubbish["NaN"], "all"), events), process.ClockCold); c.Verdict != process.Met {
		t.Errorf("the air beside the bottle: %+v", c)
	}
	t.Run("NaN first all", func(t *testing.T) { decided(t, p, rows, events, "first", "NaN", "all") })
}

func decided(t *testing.T, p process.Plan, rows []written, events, probe, kind, stretch string) {
	t.Helper()
	t.Parallel()
	r := assessed(t, p, spoilt(rows, probe, rubbish[kind], stretch), events)
	for _, name := range decisive(probe, stretch) {
		if c := clock(t, r, name); c.Verdict != process.NotMeasured && c.Verdict != process.NotMet {
			t.Errorf("%+v", c)
		}
	}
	if r.Verdict == process.Met {
		t.Error("the batch is met")
	}
}

// Rubbish in a batch that missed a limit never makes it one that met it, whichever
// probe it is in.
func TestRubbishHidesNothing(t *testing.T) {
	kinds := []string{"NaN", "torn", "disagree", "per cent", "blank", "cut short", "wrong unit", "sentinel"}
	for missed, worsen := range worse {
		s := asItWas
		worsen(&s)
		rows, events := s.told(t)
		p := quickPlan(t)
		before := assessed(t, p, spoilt(rows, "", nil, "all"), events)
		if c := clock(t, before, missed); c.Verdict != process.NotMet {
			t.Fatalf("the story is none of a missed limit: %+v", c)
		}
		n := 0
		for _, probe := range []string{"air", "bottle", "chamber", "first", "second"} {
			for _, stretch := range []string{"all", "beginning", "middle", "end"} {
				if stretch != "all" && (probe == "air" || probe == "chamber") {
					break // beside the others, they decide nothing
				}
				kind := kinds[n%len(kinds)]
				n++
				t.Run(fmt.Sprintf("%s missed, %s %s %s", missed, kind, probe, stretch), func(t *testing.T) {
					t.Parallel()
					notHelped(t, before, assessed(t, p, spoilt(rows, probe, rubbish[kind], stretch), events))
				})
			}
		}
	}
}

// notHelped demands that no clock came to be met.
func notHelped(t *testing.T, before, after *Report) {
	t.Helper()
	for _, c := range after.Clocks {
		i := slices.IndexFunc(before.Clocks, func(b process.Clock) bool { return b.Name == c.Name })
		if c.Verdict == process.Met && (i < 0 || before.Clocks[i].Verdict != process.Met) {
			t.Errorf("met by rubbish: %+v", c)
		}
	}
	if after.Verdict == process.Met {
		t.Error("the batch is met by rubbish")
	}
}
