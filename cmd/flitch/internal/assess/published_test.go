package assess

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"flitch/process"
	"flitch/testdata/published"
)

// The labelled chills of the shared check tables (computed, synthetic) through the
// whole evaluation: every leg that fails rings L2 at least 30 min before its limit,
// none that passes rings, and the verdicts are those of the labels. The rule B1 is
// the label's A_uncured, B2 its B_120_80_55, B3 its C_cured and FC its D_code.
func TestLabelledChills(t *testing.T) {
	scenarios, labels := chills(t)
	for rule, option := range map[string]string{"A_uncured": "B1", "B_120_80_55": "B2", "C_cured": "B3", "D_code": "FC"} {
		for name, readings := range scenarios {
			t.Run(name+" by "+option, func(t *testing.T) {
				at := began.Format(time.RFC3339)
				r := assessed(t, plan(t, option), readings, "time,event,detail\n"+at+",stage,cook\n"+at+",stage,chill\n")
				for leg, clockName := range []process.ClockName{process.ClockChillA, process.ClockChillB} {
					checkLeg(t, r, clock(t, r, clockName), labels[name+rule][leg])
				}
			})
		}
	}
}

type label struct {
	verdict string
	limit   time.Duration
	minutes float64 // true duration; 0 if it never ends
}

// checkLeg allows for the probe's uncertainty, which the rule adds and the label
// does not know: a leg that passes with less than 15 min to spare may fail.
func checkLeg(t *testing.T, r *Report, c process.Clock, l label) {
	t.Helper()
	close := l.verdict == "PASS" && l.minutes > (l.limit-15*time.Minute).Minutes()
	if failed := c.Verdict == process.NotMet; failed != (l.verdict == "FAIL") && !close && l.verdict != "MARGINAL" {
		t.Errorf("%s: %q after %.2f h of %.2f h, the label says %s", c.Name, c.Verdict, c.Sum, c.Limit, l.verdict)
	}
	rang := time.Time{}
	for _, a := range r.Alarms {
		if a.ID == "L2" && strings.Contains(a.Message, string(c.Name)) {
			rang = a.Raised
		}
	}
	limit := c.From.Add(time.Duration(c.Limit * float64(time.Hour)))
	switch {
	case l.verdict == "PASS" && !close && !rang.IsZero():
		t.Errorf("%s passes and rang at %s", c.Name, rang)
	case l.verdict == "FAIL" && (rang.IsZero() || limit.Sub(rang) < 30*time.Minute):
		t.Errorf("%s fails, and rang at %s; its limit is at %s", c.Name, rang, limit)
	}
}

func chills(t *testing.T) (scenarios map[string]string, labels map[string][]label) {
	t.Helper()
	series, err := published.Read("cool_scenarios.csv")
	if err != nil {
		t.Fatal(err)
	}
	text := map[string]*strings.Builder{}
	for _, row := range series.Rows {
		name := row.Text(t, "scenario")
		if text[name] == nil {
			text[name] = new(strings.Builder)
			text[name].WriteString(header)
		}
		at := began.Add(time.Duration(row.Num(t, "minute") * float64(time.Minute))).Format(time.RFC3339)
		fmt.Fprintf(text[name], "%s,air,%s,C\n%s,core,%s,C\n", at, row.Text(t, "air_C"), at, row.Text(t, "core_C"))
	}
	scenarios, labels = map[string]string{}, map[string][]label{}
	for name, b := range text {
		scenarios[name] = b.String()
	}
	table, err := published.Read("cool_scenarios_labels.csv")
	if err != nil {
		t.Fatal(err)
	}
	for _, row := range table.Rows {
		key := row.Text(t, "scenario") + row.Text(t, "rule")
		l := label{verdict: row.Text(t, "verdict"), limit: time.Duration(row.Num(t, "limit_min")) * time.Minute,
			minutes: row.NumOr(t, "true_minutes", 0)}
		labels[key] = append(labels[key], l)
	}
	if len(scenarios) != 6 {
		t.Fatalf("%d scenarios", len(scenarios))
	}
	return scenarios, labels
}
