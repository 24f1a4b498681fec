package backup

import (
	"path/filepath"
	"strings"
	"testing"
)

// A name that comes along with a copy is a plain one of this folder, whatever it is.
func FuzzNames(f *testing.F) {
	for _, s := range []string{"key", "root.crt", "lock", "-wal", "../x", "a/b", "a\x00b", ".", "..", "\x1b[2J"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, end string) {
		if !isPlain(end) {
			return
		}
		path := filepath.Join("larder", database+"."+end)
		if filepath.Dir(path) != "larder" || strings.ContainsAny(end, "-/\\\x00") || end == "lock" {
			t.Errorf("%q is taken, as %q", end, path)
		}
	})
}
