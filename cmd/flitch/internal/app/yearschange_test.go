package app

import (
	"slices"
	"strings"
	"testing"
	"time"

	"flitch/alerts"
	"flitch/cmd/flitch/internal/config"
	"flitch/process"
	"flitch/store"
)

// reconfigured is the configuration without what is named, and with what others were called before.
func reconfigured(cfg *config.Config, gone string, renamed map[string]string) {
	name := func(old string) string {
		if now, ok := renamed[old]; ok {
			return now
		}
		return old
	}
	cfg.Probes = slices.DeleteFunc(slices.Clone(cfg.Probes), func(p config.Probe) bool { return p.Name == gone || p.Place == gone })
	for i := range cfg.Probes {
		cfg.Probes[i].Name, cfg.Probes[i].Place = name(cfg.Probes[i].Name), name(cfg.Probes[i].Place)
	}
	cfg.Places = slices.DeleteFunc(slices.Clone(cfg.Places), func(p config.Place) bool { return p.Name == gone })
	for i := range cfg.Places {
		cfg.Places[i].Name = name(cfg.Places[i].Name)
	}
}

// Years later a place has another name, or a probe hangs in another one: that it failed its check is
// not forgotten.
func TestAFailedProbeStaysFailedInAnotherPlace(t *testing.T) {
	s := newShop(t)
	s.open()
	s.must(process.Command{Kind: process.CommandChecked, Check: &process.CheckSaid{Probe: "core", Method: process.CheckIce, ReadC: 9}})
	s.settle()
	failed := func() bool {
		for _, p := range s.app.engine.Places() {
			for i := range p.Probes {
				if p.Probes[i].Probe.Probe == "core" {
					return len(p.Probes[i].Checks) == 1
				}
			}
		}
		return false
	}
	if !failed() {
		t.Fatal("it did not fail")
	}
	for _, name := range []string{"kettle-2", "kettle-3", "kettle"} {
		s.close()
		reconfigured(s.cfg, "", map[string]string{"kettle": name, "kettle-2": name, "kettle-3": name})
		s.open()
		if !failed() {
			t.Errorf("in %s the check is forgotten", name)
		}
		s.at(s.app.clock.Now().Sub(dawn) + 2*minute) // it is stored there
	}
}

// An alarm of what is no longer in the configuration ends, and the journal says why.
func TestAnAlarmOfWhatIsGoneEnds(t *testing.T) {
	for _, gone := range []string{"alder", "slow"} {
		t.Run(gone, func(t *testing.T) {
			s := newShop(t)
			s.open()
			s.begin(raw)
			s.every(minute, 0, 45*minute, func(time.Duration) {
				if gone == "alder" {
					s.read("slow", 9)
				}
			})
			entry := map[string]string{"alder": "C2", "slow": "B2"}[gone]
			if _, standing, err := s.app.Alarm(entry); err != nil || !standing {
				t.Fatalf("%s does not stand: %v, %q", entry, err, s.phone.heard())
			}
			s.close()
			reconfigured(s.cfg, gone, nil)
			s.open()
			s.phone.heard()
			s.every(minute, 46*minute, 50*minute, func(time.Duration) {})
			list, err := s.app.db.Occurrences(store.OccurrenceFilter{Active: true})
			if err != nil || slices.ContainsFunc(list, func(o alerts.Occurrence) bool {
				return strings.Contains(o.Subject, gone) && !strings.Contains(o.Subject, "batch")
			}) {
				t.Errorf("there stand %+v, %v", list, err)
			}
			if lines := s.journal("configuration"); len(lines) == 0 || !strings.Contains(lines[0], gone) {
				t.Errorf("the journal says %q", lines)
			}
		})
	}
}

// A cold probe of an open batch that was given another name is missed, until the batch is closed or it
// has its name again.
func TestARenamedProbeOfAnOpenBatchIsMissed(t *testing.T) {
	s := newShop(t)
	s.open()
	s.begin(raw)
	s.every(minute, 0, 10*minute, func(time.Duration) { s.read("slow", 3); s.say("shop/spare", "3") })
	s.close()
	reconfigured(s.cfg, "", map[string]string{"slow": "slow2"})
	s.open()
	s.phone.heard()
	s.every(minute, 11*minute, 60*minute, func(time.Duration) { s.read("slow", 3); s.say("shop/spare", "3") })
	if heard := s.phone.heard(); !slices.Equal(heard, []string{"B2 raised tell"}) {
		t.Errorf("the phone heard %q", heard)
	}
	s.close()
	reconfigured(s.cfg, "", map[string]string{"slow2": "slow"})
	s.open()
	s.every(minute, 61*minute, 65*minute, func(time.Duration) { s.read("slow", 3); s.say("shop/spare", "3") })
	if _, standing, err := s.app.Alarm("B2"); err != nil || standing {
		t.Errorf("by its old name it is missed still: %v, %v", standing, err)
	}
}
