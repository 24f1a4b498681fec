package main

import (
	"bytes"
	"errors"
	"strings"
	"testing"

	"flitch/cmd/flitch/internal/quantity"
)

func doses(t *testing.T, line string) (out string, code int, complaints string) {
	t.Helper()
	var o, e bytes.Buffer
	code = execute(append([]string{"dose"}, strings.Fields(line)...), terminal{out: &o, err: &e})
	return o.String(), code, e.String()
}

// No grams are said where the rule refuses, nothing is guessed, and every refusal
// says what to do instead.
func TestDoseRefusals(t *testing.T) {
	for name, c := range map[string]struct {
		line string
		code int
		want string
	}{
		"no strength":            {"--piece A:2268g --method bag --ppm 120", exitUsage, "strength of the curing salt is missing"},
		"no per cent sign":       {"--piece A:2268g --method bag --nitrite 6.25 --ppm 120", exitUsage, "try: 6.25%"},
		"part for per cent":      {"--piece A:2268g --method bag --nitrite 0.0625 --ppm 120", exitUsage, "try: 6.25%"},
		"part with the sign":     {"--piece A:2268g --method bag --nitrite 0.0625% --ppm 120", exitProblem, "the strength is 6.25 %"},
		"nearly pure":            {"--piece A:2268g --method bag --nitrite 62.5% --ppm 120", exitProblem, "poison"},
		"parts over all":         {"--piece A:2268g --method bag --nitrite 6.25% --salt 95% --ppm 120", exitUsage, "more than all"},
		"spoon of cure":          {"--piece A:2268g --method bag --nitrite 6.25% --ppm 120 --cure 1tsp", exitUsage, "2.3 to 1"},
		"spoon with a space":     {"--piece A:2268g --method bag --nitrite 6.25% --ppm 120 --cure A:1tablespoon", exitUsage, "not dosed by the spoon"},
		"decimal comma":          {"--piece A:2,268kg --method bag --nitrite 6.25% --ppm 120", exitUsage, "try: --piece A:2.268kg"},
		"no number":              {"--piece A:NaNg --method bag --nitrite 6.25% --ppm 120", exitUsage, "not a number"},
		"nothing asked":          {"--piece A:2268g --method bag --nitrite 6.25%", exitUsage, "nothing is asked"},
		"nitrate in bacon":       {"--piece A:2268g --method bag --nitrite 6.25% --nitrate 4% --ppm 120 --rule us", exitProblem, "nitrate is refused by us"},
		"over the rule's cap":    {"--piece A:2268g --method bag --nitrite 6.25% --ppm 201 --rule us", exitProblem, "over 200 ppm"},
		"over the cap in brine":  {"--piece A:2268g --method immersion --brine 1kg --nitrite 6.25% --ppm 156 --rule us", exitProblem, "over 120 ppm"},
		"over your own cap":      {"--piece A:2268g --method bag --nitrite 6.25% --ppm 156 --rule us --cap 150", exitProblem, "over 150 ppm"},
		"brine without water":    {"--piece A:2268g --method immersion --nitrite 6.25% --ppm 120", exitUsage, "water of the brine"},
		"pump without pickle":    {"--piece A:2268g --method pumped --nitrite 6.25% --ppm 120", exitUsage, "pickle and the pump"},
		"two pieces of one name": {"--piece A:2268g --piece A:1kg --method bag --nitrite 6.25% --ppm 120", exitUsage, "already a piece A"},
		"which slab":             {"--piece A:1kg --piece B:1kg --method bag --nitrite 6.25% --ppm 120 --cure 4g", exitUsage, "which slab"},
		"weighed twice":          {"--piece A:1kg --method bag --nitrite 6.25% --ppm 120 --cure 4g --cure A:4g", exitUsage, "weighed already"},
		"brine for a bag":        {"--piece A:1kg --method bag --nitrite 6.25% --ppm 120 --brine 1kg", exitUsage, "a brine is for immersion"},
		"pump for a bag":         {"--piece A:1kg --method bag --nitrite 6.25% --ppm 120 --pump 10% --pickle 1kg", exitUsage, "for the method pumped"},
		"no water in the meat":   {"--piece A:1kg --method bag --nitrite 6.25% --ppm 120 --meat-water 0%", exitUsage, "belly 50%"},
		"below nothing":          {"--piece A:1kg --method bag --nitrite 6.25% --ppm -120", exitUsage, "is not a dose"},
		"nothing with a number":  {"--piece A:1kg --method bag --nitrite 6.25% --ppm 0", exitUsage, "asks nothing"},
		"a cap of nothing":       {"--piece A:1kg --method bag --nitrite 6.25% --ppm 120 --cap 0", exitUsage, "asks nothing"},
		"strength in grams":      {"--piece A:1kg --method bag --nitrite 6.25g --ppm 120", exitUsage, "try: 6.25%"},
		"rubbish behind":         {"--piece A:1kg:rubbish --method bag --nitrite 6.25% --ppm 120", exitUsage, "rubbish"},
		"no such method":         {"--piece A:1kg --method spoon --nitrite 6.25% --ppm 120", exitUsage, "--method"},
	} {
		out, code, complaints := doses(t, c.line)
		if code != c.code || out != "" || !strings.Contains(complaints, c.want) || !strings.Contains(complaints, "; try: ") {
			t.Errorf("%s: exit %d, out %q, complaints %q; want exit %d, no answer, %q", name, code, out, complaints, c.code, c.want)
		}
	}
}

// A dose that was answered says what it rests on and the cautions; checks that are
// not met end with exit code 1.
func TestDoseAnswers(t *testing.T) {
	for name, c := range map[string]struct {
		line string
		code int
		want []string
	}{
		"asked": {"--piece A:2268g --piece B:5lb:1.5in --method bag --nitrite 6.25% --ppm 120 --salt-target 2.5% --rule us", exitFine,
			[]string{"4.35 g", "52.6 g", "4.76 %", "not measured", "poison", "your packet"}},
		"weighed":        {"--piece A:2268g --method bag --nitrite 6.25% --ppm 120 --rule us --cure 4.4g", exitFine, []string{"121.3 ppm", "met"}},
		"decimal slip":   {"--piece A:2268g --method bag --nitrite 6.25% --ppm 120 --rule us --cure 43.5g", exitProblem, []string{"decimal point", "1198.7 ppm", "not met"}},
		"only weighed":   {"--piece A:2268g --method dry --nitrite 6.25% --rule us --cure 8g", exitProblem, []string{"220.5 ppm", "over the cap"}},
		"skin on":        {"--piece A:2268g --method bag --nitrite 6.25% --ppm 120 --rule us --skin on", exitFine, []string{"3.92 g", "0.9 of it counts"}},
		"brine of two":   {"--piece A:1kg --piece B:1kg --method immersion --brine 1.5kg --nitrite 6.25% --ppm 120 --salt-target 2% --meat-water 74% --rule us", exitFine, []string{"A+B", "1.71 %"}},
		"pumped, exact":  {"--piece A:1kg --method pumped --pickle 5kg --pump 10% --nitrite 6.25% --ppm 120 --rule us", exitFine, []string{"96.00 g", "100 g of pickle"}},
		"pumped, under":  {"--piece A:1kg --method pumped --pickle 5kg --pump 10% --nitrite 6.25% --ppm 100 --rule us", exitProblem, []string{"under it"}},
		"ham, long cure": {"--piece A:5kg --method dry --nitrite 6.25% --nitrate 4% --ppm 156 --rule us --product meat", exitFine, []string{"most nitrate", "2187"}},
		"canada, sum":    {"--piece A:5kg --method dry --nitrite 6.25% --nitrate 4% --ppm 156 --rule canada --product meat", exitProblem, []string{"sodium nitrite + nitrate", "not met"}},
		"a little over":  {"--piece A:2268g --method bag --nitrite 6.25% --ppm 120 --cure 4.577g", exitProblem, []string{"1.05 times", "not met"}},
		"a tenth":        {"--piece A:2268g --method bag --nitrite 6.25% --ppm 120 --cure 0.435g", exitProblem, []string{"a tenth", "held"}},
		"nitrate, bare":  {"--piece A:2268g --method bag --nitrite 6.25% --nitrate 4% --ppm 120", exitProblem, []string{"held", "no rule was chosen that allows it"}},
		"4 oz in 25 lb":  {"--piece A:25lb --method dry --nitrite 6.25% --cure 4oz --rule us --product meat", exitFine, []string{"625.0 ppm"}},
		"pickle of 2006": {"--piece A:100lb --method pumped --pickle 462.1875lb --pump 20% --nitrite 0.75% --cure 50lb --rule us --product meat", exitFine, []string{"162.3 ppm"}},
		"no rule":        {"--piece A:2268g --method bag --nitrite 6.25% --ppm 120", exitFine, []string{"none chosen", "not measured"}},
		"tiny":           {"--piece A:200g --method bag --nitrite 6.25% --ppm 120", exitProblem, []string{"0.01 g"}},
		"too salty":      {"--piece A:1kg --method bag --nitrite 0.5% --ppm 150 --salt-target 2.5%", exitProblem, []string{"brings more salt"}},
	} {
		out, code, complaints := doses(t, c.line)
		if code != c.code {
			t.Errorf("%s: exit %d, want %d: %s", name, code, c.code, complaints)
		}
		for _, want := range c.want {
			if !strings.Contains(out, want) {
				t.Errorf("%s: no %q in\n%s", name, want, out)
			}
		}
	}
}

// FuzzDoseWeight: a spoon is never a weight.
func FuzzDoseWeight(f *testing.F) {
	for _, text := range []string{"1tsp", "1 tbsp.", "2 teaspoons", "1/2 cup", "1 heaped tsp", "2 fl oz", "1 level tablespoon", "4.4g", "pinch", "ml", "1oz"} {
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text string) {
		g, err := parseDoseWeight(text)
		if err == nil && (!(g > 0) || quantity.NoSpoon(text) != nil) {
			t.Errorf("%q is %v g", text, g)
		}
		if c, ok := errors.AsType[*complaint](err); err != nil && (!ok || c.Try == "") {
			t.Errorf("%q: no hint in %v", text, err)
		}
	})
}

func TestSpoonsInWords(t *testing.T) {
	for _, text := range []string{"1tsp", "1 heaped tsp", "2 level tablespoons", "2 fl oz", "a pinch", "1/2 cup", "5ml"} {
		_, err := parseDoseWeight(text)
		if err == nil || !strings.Contains(err.Error(), "not dosed by the spoon") {
			t.Errorf("%q: %v", text, err)
		}
	}
	if g, err := parseDoseWeight("1oz"); err != nil || g != 28.349523125 {
		t.Errorf("an ounce is %v g: %v", g, err)
	}
}
