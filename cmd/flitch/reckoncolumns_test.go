package main

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
)

const published = "../../testdata/published/"

// reckons runs a command line, with file in place of FILE.
func reckons(t *testing.T, line, file string) (out string, code int, complaints string) {
	t.Helper()
	var o, e bytes.Buffer
	code = execute(append([]string{"reckon"}, strings.Fields(strings.ReplaceAll(line, "FILE", file))...), terminal{out: &o, err: &e})
	return o.String(), code, e.String()
}

// A sheetOut is what --rows --json prints.
type sheetOut struct {
	Rows    []sheetRow `json:"rows"`
	LeftOut []leftOut  `json:"left_out"`
	Unused  []string   `json:"columns_not_used"`
}

// Tables of other people run as they are, by the units in their heads, and their own
// columns come out. Sources are in the tables.
func TestPublishedTablesAsRows(t *testing.T) {
	for _, c := range []struct {
		line, file, result, column string
		scale, tol                 float64 // of the column's number; relative
	}{
		{"boiling-point", "boiling_point.csv", "boiling point", "T_boil_IF97_C", 1, 1e-9},
		{"boiling-point", "two_point_calibration.csv", "corrected", "corrected_C", 1, 1e-9},
		{"wet-bulb", "psychrometrics.csv", "wet bulb", "T_wb_C", 1, 1e-6},
		{"wet-bulb", "smoker_wetbulb.csv", "wet bulb", "T_wb_C", 1, 1e-6},
		{"cure-progress", "cure_cases.csv", "transformed time", "tau", 1, 1e-6},
		{"cure-progress", "cure_cases.csv", "centre now", "F_centre", 1, 1e-6},
		{"cure-progress", "cure_cases.csv", "mean salt", "mean_salt_pct", 1, 1e-6},
		{"nitrite-left", "cure_nitrite_decay.csv", "half life", "half_life_h", 1.0 / 24, 1e-6},
		{"nitrite-left time=30d", "cure_nitrite_decay.csv", "part left", "survival_30d", 1, 1e-6},
		{"dry-time", "cure_drying_fit.csv", "days from start", "days_to_target_from_start", 1, 1e-6},
		{"dry-progress", "cure_drying.csv", "loss", "loss_frac", 100, 1e-6},
		{"water-activity --skip wps_pct", "cure_product_aw.csv", "water activity", "aw_product", 1, 1e-6},
		{"water-activity", "cure_water_activity.csv", "water activity", "aw", 1, 1e-6},
		{"freezing-point", "freezing_point.csv", "freezing point", "Tf_est_C", 1, 1e-4},
		{"properties", "choi_okos.csv", "diffusivity", "alpha_m2_s", 1e7, 1e-9},
		{"danger-zone probe=0K", "danger_zone.csv", "time in the zone", "minutes_in_zone", 1, 1e-6},
		{"chill", "cooling_newton.csv", "time to limit", "t_cross_h", 60, 1e-9},
		{"hold", "fridge_product.csv", "product at the end", "Tp_end_C", 1, 1e-9},
		{"salt-rest", "cure_rest_phase.csv", "mean", "M_after_salting_over_csat", 1, 1e-6},
		{"salt-rest", "cure_rest_phase.csv", "centre", "centre_over_csat", 1, 1e-6},
		{"salt-rest", "cure_rest_phase.csv", "surface", "surface_over_csat", 1, 1e-6},
		{"salt-rest", "cure_rest_phase.csv", "centre over mean", "evenness_centre_over_mean", 1, 1e-6},
		{"cure-parts", "cure_multidose.csv", "centre now", "F_centre", 1, 1e-6},
		{"cure-parts", "cure_multidose.csv", "mean now", "M_mean_uptake", 1, 1e-6},
		{"lethality probe=0K", "lethality_integration.csv", "log reduction", "log10_red_linear", 1, 1e-6},
		{"lethality probe=0K", "lethality_integration.csv", "log reduction, lower bound", "log10_red_lower", 1, 1e-6},
		{"heat-time --as T_init=from_C --as T_medium=air_C --as T_limit=to_C", "heat_time_examples.csv", "time", "time_exact_h", 60, 1e-6},
		{"heat-time --as T_init=from_C --as T_medium=air_C --as T_limit=to_C", "heat_time_examples.csv", "time constant", "tau_h", 60, 1e-6},
		{"surface --as wetness=wetness_frac", "evap_surface.csv", "surface", "T_surface_C", 1, 1e-5},
	} {
		out, code, complaints := reckons(t, c.line+" --json --rows FILE", published+c.file)
		var s sheetOut
		if err := json.Unmarshal([]byte(out), &s); err != nil || code != exitFine || !strings.Contains(complaints, "columns not used") {
			t.Errorf("%s %s: exit %d: %s %v", c.line, c.file, code, complaints, err)
			continue
		}
		compareTable(t, c.file, s, c.result, c.column, c.scale, c.tol)
	}
}

func compareTable(t *testing.T, file string, s sheetOut, result, column string, scale, tol float64) {
	t.Helper()
	lines := tableLines(t, file)
	if len(s.Rows) != len(lines)-1 {
		t.Fatalf("%s: %d rows of %d lines", file, len(s.Rows), len(lines))
	}
	at := slices.Index(lines[0], column)
	for i, row := range s.Rows {
		want, err := strconv.ParseFloat(lines[i+1][at], 64)
		if got := (answer{row.Answer}).number(result); err != nil || row.Line != i+2 || !(math.Abs(got-want*scale) <= tol*math.Abs(want*scale)+1e-9) {
			t.Errorf("%s:%d: line %d, %s is %v, want %v: %v", file, i+2, row.Line, result, got, want*scale, err)
		}
	}
}

func tableLines(t *testing.T, file string) [][]string {
	t.Helper()
	f, err := os.Open(published + file)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	lines, err := csv.NewReader(f).ReadAll()
	if err != nil || len(lines) < 2 {
		t.Fatalf("%s: %d lines: %v", file, len(lines), err)
	}
	return lines
}

// Growth by published models, with the conditions of the table; the rows with a lag of
// their own stand in another result.
func TestPublishedGrowthAsRows(t *testing.T) {
	out, code, complaints := reckons(t, "growth probe=0K --skip profile --json --rows FILE", published+"growth_cooling_profiles.csv")
	var s sheetOut
	if err := json.Unmarshal([]byte(out), &s); err != nil || code != exitFine || len(s.Rows) < 50 {
		t.Fatalf("exit %d, %d rows: %s %v", code, len(s.Rows), complaints, err)
	}
	for line, want := range map[int]float64{2: 3.98314225483, 5: 3.08438844767} {
		if got := (answer{s.Rows[line-2].Answer}).number("growth"); !(math.Abs(got-want) <= 2e-5) {
			t.Errorf("line %d: growth is %v, want %v", line, got, want)
		}
	}
	got := ask(t, "growth model=LM_GAMMA temp=5C time=100h probe=0K conditions=aw=0.975;pH=6;nit=60;phe=10").number("growth")
	if want := ask(t, "growth model=LM_GAMMA temp=5C time=100h probe=0K aw=0.975 ph=6 nitrite=60 phenol=10").number("growth"); got != want || !(got > 0) {
		t.Errorf("conditions in one are %v, one by one %v", got, want)
	}
}

func TestColumnFiles(t *testing.T) {
	for name, c := range map[string]struct {
		line, file string
		code       int
		want       string // in the answer or the complaints
	}{
		"bracket":        {"cure-time", "thickness [mm],temp [C]\n38.1,4\n", exitFine, "7.02"},
		"underline":      {"cure-time", "id,Thickness_in,T_F\nA,1.5,39.2\n", exitFine, "7.02"},
		"own units":      {"cure-time temp=4C", "thickness\n3.81cm\n", exitFine, "7.02"},
		"other columns":  {"cure-time", "thickness_mm,T_C,cook\n38.1,4,Ann\n", exitFine, "columns not used: cook"},
		"bad row":        {"cure-time", "thickness_mm,T_C\n38.1,4\nNaN,4\n38.1,warm\n38.1\n38.1,4\n", exitProblem, "FILE:3: left out: thickness=NaN"},
		"counted":        {"cure-time", "thickness_mm,T_C\n38.1,4\nNaN,4\n38.1,warm\n38.1\n38.1,4\n", exitProblem, "3 of 5 rows left out"},
		"no unit":        {"cure-time", "thickness,temp\n38.1,4\n", exitProblem, "has no unit"},
		"misspelt":       {"cure-time", "thicknes,temp\n38mm,4C\n", exitUsage, "try: thickness"},
		"twice":          {"boiling-point", "altitude_ft,altitude_m\n0,0\n", exitUsage, "--skip 'altitude_ft' or --skip 'altitude_m'"},
		"one skipped":    {"boiling-point --skip altitude_m", "altitude_ft,altitude_m\n0,9000\n", exitFine, "99.97"},
		"skip of none":   {"boiling-point --skip height", "altitude_ft\n0\n", exitUsage, "no column \"height\""},
		"given besides":  {"cure-time temp=4C", "thickness_mm,T_C\n38.1,4\n", exitUsage, "a column and given besides"},
		"nothing asked":  {"cure-time", "a,b\n1,2\n", exitUsage, "no column is a key"},
		"no rows":        {"cure-time", "thickness_mm,T_C\n", exitProblem, "no line behind the first"},
		"semicolons":     {"cure-time", "thickness;temp\n38mm;4C\n", exitUsage, "commas between columns"},
		"empty":          {"cure-time", "", exitUsage, "no first line"},
		"parts":          {"freezing-point", "water_frac,salt_pct\n0.75,0\n", exitFine, "-0.8675"},
		"programs write": {"dry-progress thickness=5cm", "dw_m2_s,days\n5e-11,7\n", exitFine, "12.41"},
	} {
		file := filepath.Join(t.TempDir(), "asked.csv")
		if err := os.WriteFile(file, []byte(c.file), 0o600); err != nil {
			t.Fatal(err)
		}
		out, code, complaints := reckons(t, c.line+" --rows FILE", file)
		if want := strings.ReplaceAll(c.want, "FILE", file); code != c.code || !strings.Contains(out+complaints, want) {
			t.Errorf("%s: exit %d, want %d and %q:\n%s%s", name, code, c.code, want, out, complaints)
		}
	}
}

// Rounding never moves a limit: 130 °F is the row of 130 °F, six inches are six.
func TestReckonedAtTheLimit(t *testing.T) {
	for _, line := range []string{"130F time=112min", "140F time=12min", "145F time=4min", "157F time=0.25min"} {
		if got := ask(t, "lethality probe=0K temp="+line).text("table fsis-meat-6.5"); got != "met" {
			t.Errorf("%s is %q by the meat table, want met", line, got)
		}
	}
	if got := ask(t, "lethality probe=0K temp=129.99F time=112min").text("table fsis-meat-6.5"); got != "not met" {
		t.Errorf("under the row of 130 °F it is %q", got)
	}
	if got := ask(t, "trichina-freezing temp=5F thickness=6in").number("time asked"); got != 480 {
		t.Errorf("6 in at 5 °F are %v h, want 480: 20 days", got)
	}
	if got := ask(t, "trichina-freezing temp=5F thickness=6.1in").number("time asked"); got != 720 {
		t.Errorf("6.1 in at 5 °F are %v h, want 720: 30 days", got)
	}
	heated := "lethality probe=0K profile=0min:60C|40min:60C"
	if got := ask(t, heated+" gap=15min").number("log reduction"); got != 0 {
		t.Errorf("a gap earns %v", got)
	}
}
