package main

import (
	"bytes"
	"compress/gzip"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// A database of the current schema, with a closed batch, sealed and signed: met. With one byte
// of a reading changed: not met, and where.
func TestVerifyADatabase(t *testing.T) {
	packed, err := os.Open("../../testdata/databases/0006.db.gz")
	if err != nil {
		t.Fatal(err)
	}
	defer packed.Close()
	in, err := gzip.NewReader(packed)
	if err != nil {
		t.Fatal(err)
	}
	data, err := io.ReadAll(in)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		name, old, text string
		args            []string
		code            int
		says            string
	}{
		{"as it is", "", "", nil, exitFine, "met           seals: 327 stand over numbers 1 to 1664 without a hole; all 1664 rows are as they were sealed, and 0 photos"},
		{"another word in what was said", "morning forgotten", "morning forgot it", nil, exitProblem, "not met       seals: journal line"},
		{"another key was given", "", "", []string{"--key", "SHA256:" + strings.Repeat("0", 64)}, exitProblem, "; you gave SHA256:0000"},
	} {
		t.Run(c.name, func(t *testing.T) {
			changed := data
			if c.old != "" {
				if changed = bytes.ReplaceAll(data, []byte(c.old), []byte(c.text)); bytes.Equal(changed, data) {
					t.Fatal("nothing was changed")
				}
			}
			path := filepath.Join(t.TempDir(), "flitch.db")
			if err := os.WriteFile(path, changed, 0o400); err != nil {
				t.Fatal(err)
			}
			var out, complaints bytes.Buffer
			code := execute(append([]string{"verify", path}, c.args...), terminal{out: &out, err: &complaints, now: time.Now, env: os.Getenv})
			if code != c.code || !strings.Contains(out.String(), c.says) {
				t.Errorf("code %d\n%s%s", code, out.String(), complaints.String())
			}
		})
	}
}
