package main

import (
	"strings"
	"testing"

	cdx "github.com/CycloneDX/cyclonedx-go"
)

func TestCompare(t *testing.T) {
	built := []string{"std go1.26.8", "example.org/a v1.0.0"}
	licensed := cdx.Licenses{{License: &cdx.License{ID: "MIT"}}}
	list := func(parts ...cdx.Component) cdx.BOM { return cdx.BOM{Components: &parts} }
	std := cdx.Component{Name: "std", Version: "go1.26.8"}
	a := cdx.Component{Name: "example.org/a", Version: "v1.0.0", Licenses: &licensed}
	var out strings.Builder
	if err := compare(built, list(std, a), &out); err != nil || !strings.Contains(out.String(), "2 components") || !strings.HasSuffix(out.String(), "of: std\n") {
		t.Errorf("%q, %v", out.String(), err)
	}
	old := a
	old.Version = "v0.9.0"
	for name, c := range map[string]struct {
		built []string
		list  cdx.BOM
		want  string
	}{
		"nothing listed": {built, list(), "no components"},
		"no list":        {built, cdx.BOM{}, "no components"},
		"a bare program": {built[:1], list(std), "no components"},
		"one missing":    {built, list(std), "not listed: example.org/a v1.0.0"},
		"another one":    {built, list(std, a, cdx.Component{Name: "b", Version: "v1"}), "not in the program: b v1"},
		"an old version": {built, list(std, old), "not listed: example.org/a v1.0.0"},
	} {
		if err := compare(c.built, c.list, &out); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v", name, err)
		}
	}
}
