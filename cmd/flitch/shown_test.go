package main

import (
	"bytes"
	"strings"
	"testing"
	"time"

	"flitch/alerts"
	"flitch/cmd/flitch/internal/api"
	"flitch/cmd/flitch/internal/web"
	"flitch/ingest/decode"
	"flitch/process"
	"flitch/process/record"
)

// What was entered before such texts were refused does not move the cursor of who reads it.
func TestWhatIsStoredDoesNotMoveTheCursor(t *testing.T) {
	const evil = "\x1b[31mEV\x00\u202e"
	b := api.Batch{Summary: web.Summary{ID: evil, Product: evil, Held: []string{evil}}, By: evil, Pieces: []process.Piece{{Name: evil}},
		Stages:  []record.Stage{{Name: process.StageCure, By: evil}},
		Doses:   []process.DoseEntry{{Pieces: []string{evil}}},
		Entries: []record.Entry{{Kind: process.CommandNote, By: evil, Text: evil, Struck: &record.Strike{By: evil, Why: evil}}},
		Alarms:  []web.Alarm{{Occurrence: alerts.Occurrence{Subject: evil, AcknowledgedBy: evil}}}}
	var out bytes.Buffer
	if err := (&daemon{zone: time.UTC}).show(&out, b); err != nil {
		t.Fatal(err)
	}
	if got := out.String(); strings.ContainsAny(got, "\x1b\x00\u202e") || strings.Count(got, "?[31mEV??") < 9 {
		t.Errorf("%q", got)
	}
}

// Nor does what a device publishes under a topic of its own choice.
func TestWhatIsHeardDoesNotMoveTheCursor(t *testing.T) {
	const evil = "\x1b[2J"
	var out bytes.Buffer
	printHeard(&out, &daemon{zone: time.UTC}, web.HeardTopic{Topic: evil, Problem: evil, Values: []web.HeardValue{{Found: decode.Found{Pointer: "/" + evil, Text: evil}}}})
	if got := out.String(); strings.Contains(got, "\x1b") || strings.Count(got, "?[2J") != 4 {
		t.Errorf("%q", got)
	}
}

// Who puts a copy back, or says something, signs as everybody does.
func TestInitialsThatAreNone(t *testing.T) {
	for by, want := range map[string]string{"": "nobody signed; try: --by T.V.", "a\nb<b>": `initials "a\nb<b>" hold what cannot be read; try: --by T.V.`,
		strings.Repeat("x", 65): "longer than 64 bytes; try: --by T.V."} {
		for _, args := range [][]string{{"restore", t.TempDir(), "--to", t.TempDir(), "--by", by}, {"batch", "turned", "OL-31-04", "--by", by}} {
			if code, _, wrong := typed(t, args...); code != exitUsage || !strings.Contains(wrong, want) {
				t.Errorf("%.40q: %d %s", args, code, wrong)
			}
		}
	}
}
