package main

import "testing"

// Whatever stands in a line of the events, the words of a dose are read or refused.
func FuzzDosedWords(f *testing.F) {
	for _, seed := range []string{dosedWords, "--cure=A:57g --ppm 156 --text typed = again", "cure A+B:40g method immersion brine 1.5kg product meat pump 10% pickle 5kg",
		"asked A:5g", "cure A:1tsp", "cure :", "text", "= =", "cure=", "--", "cure A:5g ppm d56"} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, detail string) {
		d, _, err := parseDosed(detail)
		if (d == nil) == (err == nil) {
			t.Errorf("%q: %+v, %v", detail, d, err)
		}
		if d != nil && len(d.Portions) == 0 {
			t.Errorf("%q: a dose without a weight", detail)
		}
	})
}
