package main

import (
	"strings"
	"testing"
)

func TestReachedWeaknessesAreToldApart(t *testing.T) {
	const said = `{"config":{"scanner_name":"govulncheck"}}
{"finding":{"osv":"GO-1","fixed_version":"v1.2.3","trace":[{"module":"example.com/m","function":"Read"},{"module":"flitch"}]}}
{"finding":{"osv":"GO-1","fixed_version":"v1.2.3","trace":[{"module":"example.com/m","function":"Read"},{"module":"flitch"}]}}
{"finding":{"osv":"GO-2","trace":[{"module":"example.com/n"}]}}
{"finding":{"osv":"GO-3","trace":[{"module":"stdlib","function":"Dial"}]}}`
	modules, standard, err := read(strings.NewReader(said))
	if err != nil || len(modules) != 1 || modules[0] != "GO-1 in example.com/m (Read), mended in v1.2.3" || len(standard) != 1 {
		t.Errorf("%q, %q, %v", modules, standard, err)
	}
	for _, wrong := range []string{"", "no Go files", `{"finding":{}}`} {
		if _, _, err := read(strings.NewReader(wrong)); err == nil {
			t.Errorf("%q was taken", wrong)
		}
	}
}
