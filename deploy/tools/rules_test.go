// Package tools holds checks of what is deployed beside flitch, by the libraries of the
// engines it is for. They are a module of their own: the product must not depend on
// an engine to be watched by it.
package tools

import (
	"encoding/json"
	"log/slog"
	"os"
	"slices"
	"strings"
	"testing"

	"github.com/prometheus/common/model"
	"github.com/prometheus/prometheus/model/rulefmt"
	"github.com/prometheus/prometheus/promql"
	"github.com/prometheus/prometheus/promql/parser"
	"github.com/prometheus/prometheus/promql/promqltest"
)

const (
	rulesFile     = "../prometheus/flitch.rules.yml"
	dashboardFile = "../prometheus/dashboard.json"
	metricsFile   = "../prometheus/metrics.txt" // a test of the product holds it against what is exposed
)

// others are series that a scrape makes, or that every Go program has.
var others = []string{"up", "process_resident_memory_bytes", "go_goroutines"}

func language() parser.Parser { return parser.NewParser(parser.Options{}) }

// exposed are the names of the series that flitch exposes.
func exposed(t *testing.T) []string {
	t.Helper()
	text, err := os.ReadFile(metricsFile)
	if err != nil {
		t.Fatal(err)
	}
	return append(strings.Fields(string(text)), others...)
}

// check parses an expression and wants every series in it to be one that is exposed.
func check(t *testing.T, known []string, where, text string) {
	t.Helper()
	expr, err := language().ParseExpr(text)
	if err != nil {
		t.Errorf("%s: %q: %v", where, text, err)
		return
	}
	names := 0
	parser.Inspect(expr, func(n parser.Node, _ []parser.Node) error {
		if v, ok := n.(*parser.VectorSelector); ok {
			names++
			if !slices.Contains(known, v.Name) {
				t.Errorf("%s asks for %s, which nobody exposes", where, v.Name)
			}
		}
		return nil
	})
	if names == 0 {
		t.Errorf("%s: %q asks for nothing", where, text)
	}
}

func rules(t *testing.T) []rulefmt.Rule {
	t.Helper()
	groups, errs := rulefmt.ParseFile(rulesFile, false, model.UTF8Validation, language(), slog.New(slog.DiscardHandler))
	for _, err := range errs {
		t.Error(err)
	}
	if t.Failed() || len(groups.Groups) == 0 {
		t.Fatalf("no rules in %s", rulesFile)
	}
	return groups.Groups[0].Rules
}

func TestTheRulesAreOfSeriesThatAreExposed(t *testing.T) {
	known := exposed(t)
	for _, r := range rules(t) {
		check(t, known, r.Alert, r.Expr)
		if r.Annotations["summary"] == "" || r.Annotations["description"] == "" {
			t.Errorf("%s says not what is wrong, or not what to do", r.Alert)
		}
	}
}

func TestTheDashboardIsOfSeriesThatAreExposed(t *testing.T) {
	text, err := os.ReadFile(dashboardFile)
	if err != nil {
		t.Fatal(err)
	}
	var board struct {
		Panels []struct {
			ID      int
			Title   string
			Targets []struct{ Expr string }
		}
	}
	if err := json.Unmarshal(text, &board); err != nil || len(board.Panels) == 0 {
		t.Fatalf("%d panels, %v", len(board.Panels), err)
	}
	known, ids, asked := exposed(t), map[int]bool{}, string(text)
	for _, p := range board.Panels {
		if ids[p.ID] || p.Title == "" || len(p.Targets) == 0 {
			t.Errorf("panel %d %q: its number is there twice, or it has no title, or asks for nothing", p.ID, p.Title)
		}
		ids[p.ID] = true
		for _, q := range p.Targets {
			check(t, known, p.Title, q.Expr)
		}
	}
	for _, name := range []string{"flitch_alarms", "flitch_reading_age_seconds", "flitch_commit_seconds_bucket"} {
		if !strings.Contains(asked, name) {
			t.Errorf("the dashboard does not show %s", name)
		}
	}
}

// What fires, and what does not, over half an hour with a sample a minute.
func TestTheRulesFire(t *testing.T) {
	series := map[string]struct{ fires, quiet string }{
		"FlitchAway":           {`up{job="flitch", instance="shed"} 0x60`, `up{job="flitch", instance="shed"} 1x60`},
		"FlitchNotEvaluating":  {`flitch_input_lag_seconds{instance="shed"} 400x60`, `flitch_input_lag_seconds{instance="shed"} 2x60`},
		"FlitchRingUnanswered": {`flitch_alarms{level="ring", state="active"} 1x60`, `flitch_alarms{level="ring", state="acknowledged"} 1x60`},
		"FlitchMessageStuck":   {`flitch_oldest_due_message_seconds 0+60x60`, `flitch_oldest_due_message_seconds 30x60`},
		"FlitchStoreFails":     {`flitch_intake_store_failures_total 0+1x60`, `flitch_intake_store_failures_total 5x60`},
		"FlitchProbeSilent":    {`flitch_reading_age_seconds{probe="bottle"} 7000+60x60`, `flitch_reading_age_seconds{probe="bottle"} 60x60`},
		"FlitchFleetBehind":    {`flitch_fleet_behind_seconds 86000+60x60`, `flitch_fleet_behind_seconds 0x60`},
		"FlitchRejects":        {`flitch_intake_rejected_total{class="no number"} 0+60x60`, `flitch_intake_rejected_total{class="no number"} 7x60`},
	}
	engine := promqltest.NewTestEngine(t, false, 0, promqltest.DefaultMaxSamplesPerQuery)
	for _, r := range rules(t) {
		s, known := series[r.Alert]
		if !known {
			t.Errorf("%s is not tried: add what makes it fire", r.Alert)
			continue
		}
		if n := count(t, engine, s.fires, r.Expr); n == 0 {
			t.Errorf("%s does not fire on %s", r.Alert, s.fires)
		}
		if n := count(t, engine, s.quiet, r.Expr); n != 0 {
			t.Errorf("%s fires on %s", r.Alert, s.quiet)
		}
	}
}

// count is how many series an expression gives at the end of an hour.
func count(t *testing.T, engine *promql.Engine, load, expr string) int {
	t.Helper()
	storage := promqltest.LoadedStorage(t, "load 1m\n  "+load+"\n")
	defer storage.Close()
	query, err := engine.NewInstantQuery(t.Context(), storage, nil, expr, model.Time(3600_000).Time())
	if err != nil {
		t.Fatal(err)
	}
	defer query.Close()
	result := query.Exec(t.Context())
	vector, err := result.Vector()
	if err != nil {
		t.Fatal(err)
	}
	return len(vector)
}
