package store

import (
	"hash/crc32"
	"os"
	"path/filepath"
	"testing"
)

// A database with a byte changed anywhere is examined or refused, and nothing waits or ends
// the program. Every tenth input only is opened: one takes milliseconds.
func FuzzExamine(f *testing.F) {
	for _, at := range []uint32{0, 18, 24, 28, 60, 100, 105, 4096, 5000} {
		f.Add(at, []byte{0xff})
		f.Add(at, []byte{0, 0, 0, 0, 0xff, 0xff})
	}
	path := filepath.Join(f.TempDir(), "flitch.db")
	if err := Create(path); err != nil {
		f.Fatal(err)
	}
	whole, err := os.ReadFile(path)
	if err != nil || len(whole) == 0 {
		f.Fatal(err)
	}
	f.Fuzz(func(t *testing.T, at uint32, odd []byte) {
		if len(odd) == 0 || len(odd) > 64 || crc32.ChecksumIEEE(append([]byte{byte(at), byte(at >> 8)}, odd...))%10 != 0 {
			return
		}
		bent := append([]byte(nil), whole...)
		copy(bent[int(at)%len(bent):], odd)
		if err := os.WriteFile(path, bent, 0o600); err != nil {
			t.Fatal(err)
		}
		_, _ = Foreign(path)
		if found, err := Examine(path); err == nil && found.Readings != 0 {
			t.Errorf("byte %d: %d readings in an empty database", at, found.Readings)
		}
	})
}
