package plans

import (
	"strings"
	"testing"

	"flitch/process"
)

func TestEveryBuiltInPlanIsSound(t *testing.T) {
	if len(Names()) != 10 {
		t.Fatalf("plans: %v", Names())
	}
	for _, name := range Names() {
		p, err := BuiltIn(name)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if p.Name != name || len(p.Hash) != 64 || p.Title == "" {
			t.Errorf("%s: name %q, hash %q, title %q", name, p.Name, p.Hash, p.Title)
		}
		for limit, source := range map[string]string{
			"cold": p.Cold.Source, "come-up": p.ComeUp.Source, "chill": p.Chill.Source, "turn": p.Turn.Source,
			"cure": p.Cure.Source, "lethality": p.Lethality.Source,
		} {
			asked := map[string]bool{"cold": p.Cold.LimitMinutes > 0, "come-up": p.ComeUp.LimitHours > 0, "chill": p.Chill.Option != "",
				"turn": p.Turn.EveryHours > 0, "cure": true, "lethality": p.Lethality.Table != ""}
			if asked[limit] && source == "" {
				t.Errorf("%s: limit %s has no source", name, limit)
			}
		}
	}
}

// The numbers of the built-in belly against the published limits they name.
func TestBellyLimits(t *testing.T) {
	p, err := BuiltIn("belly-dry-cured-fully-cooked")
	if err != nil {
		t.Fatal(err)
	}
	f := func(c float64) float64 { return c*1.8 + 32 }
	for _, limit := range []struct {
		what      string
		got, want float64
	}{
		{"NCHFP: cure below 40 °F", f(p.Cold.AboveC), 40},
		{"FSIS-GD-2021-14 p. 23: come-up from 50 °F", f(p.ComeUp.FromC), 50},
		{"FSIS-GD-2021-14 p. 23: come-up to 130 °F", f(p.ComeUp.ToC), 130},
		{"FSIS-GD-2021-14 p. 23: 6 h", p.ComeUp.LimitHours, 6},
		{"common practice: 5 to 7 days", p.Cure.Days, 7},
	} {
		if d := limit.got - limit.want; d > 1e-6 || d < -1e-6 {
			t.Errorf("%s: got %v", limit.what, limit.got)
		}
	}
	if p.Class != process.FullyCooked || p.Lethality.Table != "fsis-meat-6.5" || p.Chill.Option != "B3" {
		t.Errorf("class %q, table %q, chill %q", p.Class, p.Lethality.Table, p.Chill.Option)
	}
}

// Product that is cooked by an FSIS table has six hours to come up, unless its fermentation is
// judged by degree-hours (FSIS-GD-2021-14 p. 23 to 25): never both, never neither.
func TestComeUpOrFermentation(t *testing.T) {
	fermented := 0
	for _, name := range Names() {
		p, err := BuiltIn(name)
		if err != nil {
			t.Fatal(err)
		}
		if !strings.HasPrefix(p.Lethality.Table, "fsis-") {
			continue // the come-up rule is of the same guideline
		}
		if p.Ferment.Limit != "" {
			fermented++
		}
		if (p.Ferment.Limit != "") == (p.ComeUp.LimitHours > 0) {
			t.Errorf("%s: fermentation by %q and %g h to come up", name, p.Ferment.Limit, p.ComeUp.LimitHours)
		}
		if p.ComeUp.FromC >= p.ComeUp.ToC {
			t.Errorf("%s: the end of coming up, %g °C, is not above %g °C", name, p.ComeUp.ToC, p.ComeUp.FromC)
		}
	}
	if fermented == 0 {
		t.Error("no plan ferments")
	}
}

func TestBadPlansAreRefusedWithAllProblems(t *testing.T) {
	good, err := files.ReadFile("belly-dry-cured.toml")
	if err != nil {
		t.Fatal(err)
	}
	cases := []struct{ name, old, new, want string }{
		{"unknown key", "days        = 7", "days = 7\ndayz = 8", "dayz"},
		{"unknown stage", `name   = "rinse"`, `name = "wash"`, `"wash" is not a stage`},
		{"two problems", `class   = "not fully cooked"`, `class = "raw"`, `class "raw"`},
		{"no source", `source = "FSIS Appendix B (1999) option 3"`, ``, "stage chill has no source"},
		{"unknown chill", `option = "B3"`, `option = "B9"`, `option "B9" does not exist`},
		{"negative", "limit_min = 120", "limit_min = -1", "negative"},
		{"not TOML", "[cure]", "[cure", "plan"},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			text := strings.Replace(string(good), c.old, c.new, 1)
			if text == string(good) {
				t.Fatal("the case changes nothing")
			}
			_, err := Parse([]byte(text))
			if err == nil || !strings.Contains(err.Error(), c.want) {
				t.Errorf("error %v, want %q in it", err, c.want)
			}
		})
	}
}

func TestUnknownPlanNamesTheOnesThereAre(t *testing.T) {
	_, err := BuiltIn("../secrets")
	var refusal *process.Refusal
	if err == nil || !strings.Contains(err.Error(), "belly-dry-cured") {
		t.Fatalf("%v, %v", err, refusal)
	}
}

func FuzzParse(f *testing.F) {
	for _, name := range Names() {
		text, err := files.ReadFile(name + ".toml")
		if err != nil {
			f.Fatal(err)
		}
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text []byte) {
		p, err := Parse(text)
		if err == nil && (p.Name == "" || len(p.Stages) == 0) {
			t.Errorf("accepted a plan without name or stages: %+v", p)
		}
	})
}

// A plan that is cured with nitrite asks for the dose of each piece, and knows into what
// it goes; one with salt alone does not.
func TestWhichPlansAskForADose(t *testing.T) {
	without := map[string]bool{"country-ham": true, "hot-smoked-fish": true, "jerky": true}
	for _, name := range Names() {
		p, err := BuiltIn(name)
		if err != nil {
			t.Fatal(err)
		}
		if p.Cure.Dosed == without[name] || p.Cure.Dosed != (p.Cure.Product != "") {
			t.Errorf("%s: dosed %v, product %q", name, p.Cure.Dosed, p.Cure.Product)
		}
	}
	for _, spoil := range []func(*process.CureRule){
		func(c *process.CureRule) { c.Method = "injected" },
		func(c *process.CureRule) { c.Product = "fish" },
	} {
		p, err := BuiltIn("loin")
		if err != nil {
			t.Fatal(err)
		}
		if spoil(&p.Cure); len(p.Problems()) != 1 {
			t.Errorf("%+v: %v", p.Cure, p.Problems())
		}
	}
}
