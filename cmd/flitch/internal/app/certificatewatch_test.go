package app

import (
	"crypto/x509"
	"encoding/pem"
	"log/slog"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"flitch/cmd/flitch/internal/certificate"
	"flitch/cmd/flitch/internal/config"
)

// given writes a certificate of 90 days that was made at a time.
func (s *shop) given(made time.Time) {
	s.t.Helper()
	dir := s.t.TempDir()
	authority, err := certificate.OpenAuthority(filepath.Join(dir, "root"), "Elsewhere", nil, made)
	if err != nil {
		s.t.Fatal(err)
	}
	own, err := certificate.NewOwn(authority, []string{"smokehouse.lan"}, func() time.Time { return made })
	if err != nil {
		s.t.Fatal(err)
	}
	leaf, err := own.Get(nil)
	if err != nil {
		s.t.Fatal(err)
	}
	key, err := x509.MarshalPKCS8PrivateKey(leaf.PrivateKey)
	if err != nil {
		s.t.Fatal(err)
	}
	s.cfg.Page.TLS, s.cfg.Page.Certificate, s.cfg.Page.Key = config.Given, filepath.Join(dir, "page.crt"), filepath.Join(dir, "page.key")
	for file, block := range map[string]*pem.Block{s.cfg.Page.Certificate: {Type: "CERTIFICATE", Bytes: leaf.Certificate[0]}, s.cfg.Page.Key: {Type: "PRIVATE KEY", Bytes: key}} {
		if err := os.WriteFile(file, pem.EncodeToMemory(block), 0o600); err != nil {
			s.t.Fatal(err)
		}
	}
}

// reported waits until the end of the certificate was reported so often.
func (s *shop) reported(times int) { s.t.Helper(); s.reportedBefore(s.clock.Now(), times) }

// reportedBefore lets minutes go by meanwhile, up to a time: the watch may have begun to
// wait only after the clock was set.
func (s *shop) reportedBefore(end time.Time, times int) {
	s.t.Helper()
	if !s.until(func() bool {
		said := slices.DeleteFunc(s.journal("fault"), func(l string) bool { return !strings.Contains(l, "page certificate") })
		if next := s.clock.Now().Add(time.Minute); len(said) != times && next.Before(end) {
			s.clock.Step(next)
		}
		return len(said) == times
	}) {
		s.t.Fatalf("reported %q, want %d times", s.journal("fault"), times)
	}
}

// The end of an own root is told half a year before, at nine, with its last day; and not
// again at each start.
func TestTheEndOfTheOwnRootIsTold(t *testing.T) {
	s := ownShop(t)
	s.open()
	ends := s.app.root.Ends()
	nine := time.Date(ends.Year(), ends.Month(), ends.Day()-179, 9, 0, 0, 0, time.UTC)
	s.clock.Step(nine.AddDate(0, 0, -3))
	s.settle()
	if lines := s.journal("fault"); len(lines) != 0 {
		t.Errorf("182 days before %q", lines)
	}
	s.clock.Step(nine.Add(-4 * time.Hour))
	s.reportedBefore(nine, 1)
	s.settle()
	if heard := s.phone.heard(); len(heard) != 0 {
		t.Errorf("before nine %q", heard)
	}
	s.close()
	s.open()
	s.clock.Step(nine)
	s.settle()
	s.phone.mu.Lock()
	got := slices.Clone(s.phone.got)
	s.phone.mu.Unlock()
	if len(got) != 1 || got[0].Entry != "B7c" || got[0].Level != "tell" || !strings.Contains(got[0].Text, "Its last day is "+ends.UTC().Format("Mon 2 Jan 2006")) {
		t.Errorf("told %+v", got)
	}
	s.reported(1)
}

// Files that somebody else renews are told of two weeks before their end, when that was
// forgotten; once they are renewed it is over.
func TestGivenFilesThatNobodyRenewsAreTold(t *testing.T) {
	s := newShop(t)
	s.given(dawn.AddDate(0, 0, -80))
	s.open()
	s.reported(1)
	s.every(minute, 0, 181*minute, func(time.Duration) {})
	if heard := s.phone.heard(); !slices.Equal(heard, []string{"B7c raised tell"}) {
		t.Errorf("heard %q", heard)
	}
	s.close()
	s.given(dawn.AddDate(0, 0, -1))
	s.open()
	if !s.until(func() bool { return len(s.journal("fault over")) == 1 }) {
		t.Fatalf("renewed, and the journal says %q", s.journal("fault over"))
	}
	s.settle()
	if heard := s.phone.heard(); !slices.Equal(heard, []string{"B7c cleared tell"}) {
		t.Errorf("heard %q", heard)
	}
}

// The broker's files end too, and sensors would be let in no more: that is told though the
// page has no certificate at all.
func TestTheEndOfTheBrokersFilesIsTold(t *testing.T) {
	s := newShop(t)
	s.given(dawn.AddDate(0, 0, -80))
	page := &s.cfg.Page
	s.cfg.Broker.TLS, s.cfg.Broker.Certificate, s.cfg.Broker.Key = config.Given, page.Certificate, page.Key
	page.TLS, page.Certificate, page.Key = config.NoTLS, "", ""
	a, err := New(s.cfg, Options{Clock: s.clock, Log: slog.New(slog.DiscardHandler), Version: "test"})
	if err != nil {
		t.Fatal(err)
	}
	defer a.release()
	ends, tell, err := a.certificateEnds()
	if err != nil || tell.After(dawn) || !ends.After(dawn) || ends.After(dawn.AddDate(0, 0, 14)) {
		t.Errorf("ends %s, told %s, %v", ends, tell, err)
	}
}
