package rules

import (
	"os"
	"regexp"
	"slices"
	"testing"

	"flitch/testdata/published"
)

const readme = "../../testdata/published/README.md"

// Every check table has rows with a source and a provenance and is used by a
// check; the README names no table that is not there. Go does not look for tests
// under testdata, so this one lives with the rules.
func TestCheckTables(t *testing.T) {
	names, err := published.Names()
	if err != nil {
		t.Fatal(err)
	}
	text, err := os.ReadFile(readme)
	if err != nil {
		t.Fatal(err)
	}
	listed := regexp.MustCompile(`[a-z0-9_]+\.csv`).FindAllString(string(text), -1)
	for _, name := range names {
		if _, err := published.Read(name); err != nil {
			t.Error(err)
		}
		if !slices.Contains(listed, name) {
			t.Errorf("%s is in the folder, but %s lists no check of it", name, readme)
		}
	}
	for _, name := range listed {
		if !slices.Contains(names, name) {
			t.Errorf("%s lists %s, which is not in the folder", readme, name)
		}
	}
}
