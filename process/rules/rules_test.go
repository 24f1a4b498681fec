package rules

import (
	"math"
	"slices"
	"testing"
)

// Hotter never takes longer, more reductions never less, and each table ends in
// instant rows from 158 °F, 70 °C.
func TestMeatTablesAreInOrder(t *testing.T) {
	var weaker []Row
	for _, name := range meatTables() {
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
	for _, name := range []string{"fsis-meat-6.5", "fsis-turkey-7:4", "foodcode-roast", "trichina-cook", "B1", "B3-2021", "FC"} {
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
	for _, bad := range []string{"", "12", "12 h", "x min", "Instant", "reach"} {
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
