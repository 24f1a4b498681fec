package rules

import (
	"math"
	"slices"
	"strconv"
	"strings"
	"testing"
)

func TestEveryLethalityTableIsWhole(t *testing.T) {
	for _, name := range LethalityNames() {
		rows, ok := Lethality(name)
		if !ok || len(rows) == 0 {
			t.Errorf("%s: %d rows", name, len(rows))
		}
		for i, r := range rows {
			if i > 0 && (r.TempC <= rows[i-1].TempC || r.Minutes > rows[i-1].Minutes) {
				t.Errorf("%s: row %d out of order: %+v after %+v", name, i, r, rows[i-1])
			}
			if !(r.Minutes >= 0) || r.Source == "" || r.Provenance != "seen" && r.Provenance != "memory" {
				t.Errorf("%s: row %d: %+v", name, i, r)
			}
		}
		family, _, _ := strings.Cut(name, ":")
		if !strings.Contains(LethalityHint(), family) {
			t.Errorf("the hint does not say %s", family)
		}
	}
}

// Fat above 12 % and unknown use the column of 12 % (FSIS-GD-2021-14 p. 39).
func TestFatOfPoultry(t *testing.T) {
	for _, species := range poultrySpecies {
		fattest, _ := Lethality(poultryTable(species, "12"))
		for _, fat := range []string{"13", "20", "100", "unknown"} {
			if rows, ok := Lethality(poultryTable(species, fat)); !ok || !slices.Equal(rows, fattest) {
				t.Errorf("%s, fat %s: not the column of 12 %%", species, fat)
			}
		}
		for _, fat := range []string{"", "0", "-1", "101", "2.5", "05", " 5"} {
			if rows, ok := Lethality(poultryTable(species, fat)); ok {
				t.Errorf("%s, fat %q: %d rows", species, fat, len(rows))
			}
		}
	}
}

// Other and mixed poultry takes the longer time (p. 36): turkey in the cool rows,
// and where chicken needs longer, chicken.
func TestMixedPoultryTakesTheLonger(t *testing.T) {
	fromChicken, fromTurkey := 0, 0
	for fat := 1; fat <= 12; fat++ {
		chicken, _ := Lethality(poultryTable("chicken", strconv.Itoa(fat)))
		turkey, _ := Lethality(poultryTable("turkey", strconv.Itoa(fat)))
		mixed, _ := Lethality(poultryTable("poultry", strconv.Itoa(fat)))
		if len(mixed) != 30 {
			t.Fatalf("fat %d: %d rows", fat, len(mixed))
		}
		for i := range mixed {
			if mixed[i].TempC != chicken[i].TempC || chicken[i].TempC != turkey[i].TempC || mixed[i].Minutes != max(chicken[i].Minutes, turkey[i].Minutes) {
				t.Errorf("fat %d: %+v of %+v and %+v", fat, mixed[i], chicken[i], turkey[i])
			}
			if chicken[i].Minutes > turkey[i].Minutes {
				fromChicken++
			}
			if turkey[i].Minutes > chicken[i].Minutes {
				fromTurkey++
			}
		}
	}
	if fromChicken == 0 || fromTurkey == 0 {
		t.Errorf("%d rows from chicken and %d from turkey: the check shows nothing", fromChicken, fromTurkey)
	}
}

func TestFurtherTablesDoNotAllocate(t *testing.T) {
	if n := testing.AllocsPerRun(100, func() {
		Lethality("fsis-poultry-7:unknown")
		Lethality("foodcode-roast")
		Lethality("none")
	}); n != 0 {
		t.Errorf("%v allocations per look-up, want 0", n)
	}
}

func TestFreezing(t *testing.T) {
	for _, c := range []struct {
		name             string
		centre           bool
		tempC, thickness float64
		hours            float64
		ok               bool
	}{
		{"a home freezer, thin", false, -18, 3, 480, true},
		{"the boundary of thickness", false, -15, 6, 480, true},
		{"just over it", false, -15, 6.01, 720, true},
		{"too thick", false, -30, 28, 0, false},
		{"too warm", false, -14, 3, 0, false},
		{"colder takes the shorter row", false, -40, 3, 144, true},
		{"by the centre", true, -20, 0, 106, true},
		{"by the centre, deep", true, -40, 0, 0.5, true},
		{"no thickness", false, -18, math.NaN(), 0, false},
		{"no temperature", true, math.NaN(), 0, 0, false},
	} {
		if f, ok := FreezingFor(c.centre, c.tempC, c.thickness); ok != c.ok || f.Hours != c.hours {
			t.Errorf("%s: %v h, %v", c.name, f.Hours, ok)
		}
	}
}

func TestNitriteByCuring(t *testing.T) {
	for _, c := range []struct {
		curing  Curing
		cap     float64
		nitrate bool
	}{
		{Curing{"us", "bacon", "pumped"}, 120, false},
		{Curing{"us", "bacon", "equilibrium"}, 120, false},
		{Curing{"us", "bacon", "dry"}, 200, false},
		{Curing{"us", "bacon-skin-on", "pumped"}, 108, false},
		{Curing{"us", "bacon-skin-on", "dry"}, 180, false},
		{Curing{"us", "bacon-skin-on", "equilibrium"}, 0, false},
		{Curing{"us", "bacon", "comminuted"}, 0, false},
		{Curing{"us", "meat", "comminuted"}, 156, true},
		{Curing{"us", "meat", "pumped"}, 200, true},
		{Curing{"us", "meat", "picked up"}, 200, true},
		{Curing{"us", "meat", "dry"}, 625, true},
		{Curing{"canada", "meat", "dry"}, 200, true},
		{Curing{"canada", "bacon", "dry"}, 120, true},
		{Curing{"fda-home", "meat", "dry"}, 200, true},
		{Curing{"eu", "meat", "dry"}, 0, false},
		{Curing{"us", "meat", ""}, 0, false},
		{Curing{}, 0, false},
	} {
		limit, ok := c.curing.Cap()
		if limit.PPM != c.cap || ok != (c.cap > 0) {
			t.Errorf("%+v: cap %v, %v, want %v", c.curing, limit.PPM, ok, c.cap)
		}
		if n, allowed := c.curing.Nitrate(); allowed != c.nitrate {
			t.Errorf("%+v: nitrate allowed is %v: %+v", c.curing, allowed, n)
		}
	}
	bacon := Curing{"us", "bacon", "pumped"}
	if least := bacon.Least(); len(least) != 4 || least[0].PPM != 120 || least[3].PPM != 40 {
		t.Errorf("least of pumped bacon: %+v", least)
	}
	if a, ok := bacon.Accelerator(); !ok || a.PPM != 550 || a.Kind != "exact" {
		t.Errorf("accelerator of pumped bacon: %+v", a)
	}
	if err := (Curing{"us", "ham", "dry"}).Check(); err == nil || !strings.Contains(err.Error(), `"meat"`) {
		t.Errorf("an unknown product: %v", err)
	}
}

// Each row can be reached by some curing, and each name in the table is known.
func TestNitriteRowsAreReachable(t *testing.T) {
	for _, l := range NitriteLimits() {
		if !slices.Contains(nitriteRules[:], l.Rule) {
			t.Errorf("rule %q", l.Rule)
		}
		for _, p := range l.Products {
			if p != "any" && !slices.Contains(nitriteProducts[:], p) {
				t.Errorf("%s: product %q", l.AppliesTo, p)
			}
		}
		for _, m := range l.Methods {
			if m != "any" && !slices.Contains(nitriteMethods[:], m) {
				t.Errorf("%s: method %q", l.AppliesTo, m)
			}
		}
	}
}

func TestDegreeHourLimits(t *testing.T) {
	us, _ := DegreeHours("us")
	canada, _ := DegreeHours("canada")
	for _, c := range []struct {
		rule       DegreeHourRule
		room, want float64
	}{
		{us, 89.9, 1200}, {us, 90, 1000}, {us, 90 - 1e-9, 1000}, {us, 100, 1000}, {us, 100 + 1e-9, 1000}, {us, 100.1, 900}, {us, math.NaN(), 900},
		{canada, 32.9, 665}, {canada, 33, 555}, {canada, 37, 555}, {canada, 37.1, 500}, {canada, math.NaN(), 500},
	} {
		if got := c.rule.Limit(c.room).Limit; got != c.want {
			t.Errorf("%s, %v: %v, want %v", c.rule.ID, c.room, got, c.want)
		}
	}
	for room, want := range map[float64]float64{70: 80, 75: 80, 76: 60, 85: 33, 100: 25, 104: 20, 105: 20} {
		if f, ok := us.FormFor(room); !ok || f.Hours != want {
			t.Errorf("form at %v °F: %v h, want %v", room, f.Hours, want)
		}
	}
	for _, room := range []float64{106, math.NaN()} {
		if f, ok := us.FormFor(room); ok {
			t.Errorf("form at %v °F: %v h, it ends at 105", room, f.Hours)
		}
	}
	if r, ok := DegreeHours("eu"); ok {
		t.Errorf("an unknown rule: %+v", r)
	}
}
