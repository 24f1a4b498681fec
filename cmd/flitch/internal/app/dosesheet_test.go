package app

import (
	"strings"
	"testing"
	"time"

	"flitch/process"
)

// What was weighed is on each paper of the batch, with what its checks came to, and
// who went on all the same.
func TestDosesAreOnTheRecord(t *testing.T) {
	s := newShop(t)
	s.open()
	s.begin(raw)
	s.at(5 * time.Minute)
	s.must(process.Command{Kind: process.CommandDosed, Dosing: &process.Dosing{Nitrite: 0.0625, PPM: 156, Rule: "us",
		Portions: []process.DosePortion{{Pieces: []string{"A"}, CureG: 57}}}})
	if told := s.phone.heard(); len(told) != 1 || told[0] != "K4 raised tell" {
		t.Errorf("told %v", told)
	}
	if err := s.try(process.Command{Kind: process.CommandStage, Stage: process.StageRinse}); err == nil || !strings.Contains(err.Error(), "decimal point") {
		t.Errorf("the cure was left: %v", err)
	}
	s.must(process.Command{Kind: process.CommandDosed, Text: "weighed again", Dosing: &process.Dosing{Portions: []process.DosePortion{{Pieces: []string{"A"}, CureG: 58}}}})
	log, err := s.app.db.Commands("PS-02")
	if err != nil {
		t.Fatal(err)
	}
	if d := log[len(log)-1].Command.Dosing; d == nil || d.Nitrite != 0.0625 || d.Rule != "us" || d.Method != "dry" || len(d.Portions) != 1 {
		t.Errorf("the log does not hold the dose whole: %+v", d)
	}
	s.must(process.Command{Kind: process.CommandStage, Stage: process.StageRinse, Text: "thrown away at once"})
	s.close()
	s.open() // the entry is in the stored state

	rec := s.record()
	if n := len(rec.Doses); n != 2 {
		t.Errorf("%d doses on the record, want both", n)
	}
	papers := map[string]string{}
	for name, write := range map[string]func(*strings.Builder) error{
		"csv":  func(b *strings.Builder) error { return rec.CSV(b) },
		"json": func(b *strings.Builder) error { return rec.JSON(b) },
		"html": func(b *strings.Builder) error { return rec.HTML(b) },
	} {
		var b strings.Builder
		if err := write(&b); err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		papers[name] = b.String()
	}
	for name, wants := range map[string][]string{
		"csv":  {",PS-02,A,curing salt,\"hand, T.V.\",57,g,good,entered"},
		"json": {`"cure_g": 57`, `"answer": "not met"`, `"why": "thrown away at once"`, `"what": "dose of A"`, `"outcome": "held"`},
		"html": {"Cure weighed", "57.0 g, 5.7 g", "58.0 g, 5.7 g", "weighed again", "6.25 % nitrite in it", "1571 ppm", "a decimal point has slipped", "all the same: thrown away at once"},
	} {
		for _, want := range wants {
			if !strings.Contains(papers[name], want) {
				t.Errorf("%s does not say %q", name, want)
			}
		}
	}
}
