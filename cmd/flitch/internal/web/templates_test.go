package web

import (
	"io/fs"
	"regexp"
	"testing"
)

// All pages are parsed into one set: a part that two of them define is the one that was
// read last, in both.
func TestEachPartOfAPageIsDefinedOnce(t *testing.T) {
	names, err := fs.Glob(pages, "*.html")
	if err != nil || len(names) == 0 {
		t.Fatalf("no pages: %v", err)
	}
	defined, in := regexp.MustCompile(`{{-?\s*define "([^"]+)"`), map[string]string{}
	for _, name := range names {
		text, err := fs.ReadFile(pages, name)
		if err != nil {
			t.Fatal(err)
		}
		for _, m := range defined.FindAllSubmatch(text, -1) {
			part := string(m[1])
			if in[part] != "" {
				t.Errorf("%s defines %q, and so does %s", name, part, in[part])
			}
			in[part] = name
		}
	}
}
