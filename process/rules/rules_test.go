package rules

import (
	"math"
	"slices"
	"strings"
	"testing"

	"flitch/testdata/published"
)

// The meat table against its published copy, which gives minutes to four digits,
// and the chill options against theirs.
func TestPublished(t *testing.T) {
	r := published.Open(t, "process/rules")
	r.Check("cooking, meat table", "fsis_lethality_meat.csv", published.Abs(5.1e-5), checkMeat)
	r.Check("chill options", "fsis_stabilization.csv", published.Abs(1e-9), checkChill)
	r.Close()
}

func checkMeat(c *published.Check) {
	for _, name := range LethalityNames() {
		rows, ok := Lethality(name)
		if !ok || len(rows) != len(c.Rows) {
			c.T.Fatalf("%s: %d rows, want %d", name, len(rows), len(c.Rows))
		}
		column := "minutes_" + strings.ReplaceAll(strings.TrimPrefix(name, "fsis-meat-"), ".", "_") + "log"
		for i, row := range c.Rows {
			c.Near(row, "temp_f", rows[i].TempC*1.8+32)
			c.Near(row, column, rows[i].Minutes)
			if rows[i].Source != row.Text(c.T, "source") || rows[i].Provenance != row.Text(c.T, "provenance") {
				c.T.Errorf("%s: source or provenance differ", row.Where())
			}
		}
	}
}

func checkChill(c *published.Check) {
	if len(ChillNames()) != len(c.Rows) {
		c.T.Errorf("%d options, the table has %d", len(ChillNames()), len(c.Rows))
	}
	for _, row := range c.Rows {
		o, ok := ChillOption(row.Text(c.T, "id"))
		if !ok {
			c.T.Errorf("%s: no such option", row.Where())
			continue
		}
		c.Near(row, "total_max_h", o.TotalMaxHours)
		c.Near(row, "min_ingoing_nitrite_ppm", o.MinNitritePPM)
		for i, stage := range []string{"stage1", "stage2"} {
			if row.Text(c.T, stage+"_to_f") != "" {
				checkLeg(c, row, stage, o.Legs[i])
			}
		}
	}
}

func checkLeg(c *published.Check, row published.Row, stage string, leg Leg) {
	c.Near(row, stage+"_to_f", leg.ToC*1.8+32)
	c.Near(row, stage+"_max_h", leg.MaxHours)
	if !leg.FromStart {
		c.Near(row, stage+"_from_f", leg.FromC*1.8+32)
	}
}

// Hotter never takes longer, more reductions never less, and each table ends in
// instant rows from 158 °F, 70 °C.
func TestMeatTablesAreInOrder(t *testing.T) {
	var weaker []Row
	for _, name := range LethalityNames() {
		rows, _ := Lethality(name)
		for i, r := range rows {
			if i > 0 && (r.TempC <= rows[i-1].TempC || r.Minutes > rows[i-1].Minutes) {
				t.Errorf("%s: row %d out of order: %+v", name, i, r)
			}
			if weaker != nil && r.Minutes < weaker[i].Minutes {
				t.Errorf("%s: %.1f °C asks for less than the weaker table", name, r.TempC)
			}
			if instant := r.TempC > 69.9; instant != (r.Minutes == 0) {
				t.Errorf("%s: %.1f °C: %v min", name, r.TempC, r.Minutes)
			}
		}
		weaker = rows
	}
}

func TestRowsAreConvertedExactly(t *testing.T) {
	rows, ok := Lethality("fsis-meat-6.5")
	if !ok || len(rows) != 31 {
		t.Fatalf("%d rows", len(rows))
	}
	for i, want := range map[int]Row{0: {TempC: 54.0 + 4.0/9, Minutes: 112}, 10: {TempC: 60, Minutes: 12}, 16: {TempC: 63 + 1.0/3, Minutes: 169.0 / 60}} {
		if math.Abs(rows[i].TempC-want.TempC) > 1e-12 || rows[i].Minutes != want.Minutes {
			t.Errorf("row %d = %+v, want %+v", i, rows[i], want)
		}
	}
}

// A table is looked up for every sample of a cook.
func TestLethalityDoesNotAllocate(t *testing.T) {
	if n := testing.AllocsPerRun(100, func() { Lethality("fsis-meat-6.5") }); n != 0 {
		t.Errorf("%v allocations per look-up, want 0", n)
	}
}

func TestEveryOptionIsWhole(t *testing.T) {
	for _, id := range ChillNames() {
		o, ok := ChillOption(id)
		if !ok || len(o.Legs) == 0 || !(o.TotalMaxHours > 0) || o.Source == "" || o.Edition == "" {
			t.Errorf("%s: not whole: %+v", id, o)
		}
		if o.Provenance != "seen" && o.Provenance != "memory" {
			t.Errorf("%s: provenance %q", id, o.Provenance)
		}
		for _, leg := range o.Legs {
			if !(leg.MaxHours > 0) || leg.MaxHours > o.TotalMaxHours || !leg.FromStart && leg.FromC <= leg.ToC {
				t.Errorf("%s: leg %+v", id, leg)
			}
		}
	}
	food, _ := ChillOption("FC")
	if len(food.Legs) != 2 || food.Legs[0].FromC != food.Legs[1].FromC {
		t.Errorf("Food Code: both legs begin at 135 °F: %+v", food.Legs)
	}
	australia, _ := ChillOption("AU-c")
	if len(australia.Legs) != 3 || !australia.Legs[0].FromStart || math.Abs(australia.Legs[2].ToC-5) > 1e-12 {
		t.Errorf("SCARM 80: three legs, from the end of cooking to 5 °C: %+v", australia.Legs)
	}
}

func TestUnknownNames(t *testing.T) {
	if rows, ok := Lethality("fsis-meat-9"); ok || rows != nil {
		t.Errorf("unknown table: %v", rows)
	}
	if o, ok := ChillOption("B9"); ok {
		t.Errorf("unknown option: %+v", o)
	}
	for _, name := range []string{"fsis-meat-6.5", "B1", "B3-2021", "FC"} {
		if !slices.Contains(Names(), name) {
			t.Errorf("%s is not listed", name)
		}
	}
}

func TestBrokenTablesAreErrors(t *testing.T) {
	for _, bad := range []string{"", "x", "80>40", "a>40:1", "80>b:1", "80>40:c"} {
		if legs, err := legsOf(bad); err == nil {
			t.Errorf("legs %q read as %v", bad, legs)
		}
	}
	for _, bad := range []string{"", "12", "12 h", "x min"} {
		if v, err := printedMinutes(bad); err == nil {
			t.Errorf("time %q read as %v", bad, v)
		}
	}
	for _, bad := range []string{"", "a,b\n", "a,b\n1\n"} {
		if rows, err := records(bad); err == nil {
			t.Errorf("table %q read as %v", bad, rows)
		}
	}
}
