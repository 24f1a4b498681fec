package certificate

import (
	"log/slog"
	"os"
	"path/filepath"
	"testing"
	"time"
)

// Whatever stands in the files of a certificate, a key or a root, it is read or refused.
func FuzzFiles(f *testing.F) {
	now := time.Date(2031, 5, 2, 12, 0, 0, 0, time.UTC)
	folder := f.TempDir()
	root := filepath.Join(folder, "root.key")
	authority, err := OpenAuthority(root, "Oddwick Lane Larder", []string{"larder.lan"}, now)
	if err != nil {
		f.Fatal(err)
	}
	text, err := os.ReadFile(root)
	if err != nil {
		f.Fatal(err)
	}
	f.Add(authority.PEM(), text)
	f.Add(text, text)
	f.Add([]byte("-----BEGIN CERTIFICATE-----\nAAAA\n-----END CERTIFICATE-----\n"), []byte(""))
	f.Fuzz(func(t *testing.T, certificate, key []byte) {
		a, b := filepath.Join(folder, "a.pem"), filepath.Join(folder, "b.pem")
		for path, text := range map[string][]byte{a: certificate, b: key} {
			if err := os.WriteFile(path, text, 0o600); err != nil {
				t.Fatal(err)
			}
		}
		if given, err := NewGiven(a, b, func() time.Time { return now }, slog.New(slog.DiscardHandler)); err == nil {
			if _, err := given.Get(nil); err != nil {
				t.Error(err)
			}
		}
		if len(key) == 0 {
			return // an empty file is one to be made
		}
		if authority, err := OpenAuthority(b, "Oddwick Lane Larder", []string{"larder.lan"}, now); err == nil && len(authority.PEM()) == 0 {
			t.Error("a root without a certificate")
		}
	})
}
