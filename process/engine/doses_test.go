package engine

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"flitch/alerts"
	"flitch/process"
	"flitch/process/plans"
)

// A doseHouse is a house with one batch of two slabs, driven by hand.
type doseHouse struct {
	*House
	t    *testing.T
	now  time.Time
	said int
	told []alerts.Message
	line []process.JournalLine
}

func newDoseHouse(t *testing.T) *doseHouse {
	t.Helper()
	plan, err := plans.BuiltIn("belly-dry-cured")
	if err != nil {
		t.Fatal(err)
	}
	policy := alerts.Policy{Channels: []alerts.ChannelPolicy{{Name: "phone", Minimum: alerts.Tell}}}
	h := &doseHouse{House: NewHouse(nil, alerts.Catalogue(alerts.Electric), policy), t: t, now: ten}
	h.say(process.Command{Kind: process.CommandNew, New: &process.NewBatch{Plan: plan, Pieces: []process.Piece{
		{Name: "A", GreenG: 2268, ThicknessMM: 38}, {Name: "B", GreenG: 2200, ThicknessMM: 38}}}})
	return h
}

func (h *doseHouse) take(in process.Input) {
	h.Take(in)
	h.told = append(h.told, h.Messages()...)
	lines, _ := h.Happened()
	h.line = append(h.line, lines...)
}

func (h *doseHouse) say(c process.Command) {
	h.said++
	c.ID, c.Batch, c.By, c.At, c.Typed = fmt.Sprint(h.said), "OL-31-18", "T.V.", h.now, h.now
	h.take(process.Input{Kind: process.InputCommand, At: h.now, Command: process.Complete(h.batch(c.Batch), c)})
}

func (h *doseHouse) dose(piece string, grams float64, why string) {
	h.say(process.Command{Kind: process.CommandDosed, Text: why, Dosing: &process.Dosing{Nitrite: 0.0625, PPM: 156, Rule: "us",
		Portions: []process.DosePortion{{Pieces: []string{piece}, CureG: grams}}}})
}

func (h *doseHouse) minutes(n int) {
	for range n {
		h.now = h.now.Add(time.Minute)
		h.take(process.Input{Kind: process.InputTick, At: h.now})
	}
}

func (h *doseHouse) journal() string {
	var out []string
	for _, l := range h.line {
		out = append(out, l.Kind+", "+l.By+": "+l.Text)
	}
	return strings.Join(out, "\n")
}

// K4: a comma that slipped is told at once, with the numbers and what it looks like;
// corrected with a reason, it is over.
func TestStoryOfASlippedComma(t *testing.T) {
	h := newDoseHouse(t)
	h.dose("B", 5.5, "")
	if len(h.told) != 0 {
		t.Fatalf("a good dose told %+v", h.told)
	}
	h.dose("A", 57, "")
	if len(h.told) != 1 {
		t.Fatalf("told %+v", h.told)
	}
	m := h.told[0]
	if m.Entry != "K4" || m.Level != alerts.Tell || m.Subject != "Check the dose of cure: A, OL-31-18" {
		t.Errorf("message %+v", m)
	}
	for _, want := range []string{"57 g weighed, 5.661 g asked, 1571 ppm: this dose does not pass its check, since 21:00 UTC.\nWeighed against asked not met: 10.1 times what was asked", "piece A of batch OL-31-18",
		"a decimal point has slipped", "over the cap", "Do first: Weigh it again", "Asks again at"} {
		if !strings.Contains(m.Body, want) {
			t.Errorf("the message does not say %q:\n%s", want, m.Body)
		}
	}
	h.say(process.Command{Kind: process.CommandStage, Stage: process.StageRinse})
	if b := h.batch("OL-31-18"); len(b.Stages) != 1 {
		t.Error("the cure was left with a dose that fails")
	}
	h.minutes(10)
	h.dose("A", 5.7, "typed wrongly")
	if n := len(h.told); n != 2 || h.told[1].Kind != alerts.Cleared {
		t.Errorf("after the correction told %+v", h.told[1:])
	}
	for _, want := range []string{
		"dosed, T.V.: curing salt with 6.25 % nitrite weighed: A 57 g", "dose check, flitch: not met: A: 57 g", "alarm raised, flitch: alarm 1 K4",
		"dosed, T.V.: curing salt with 6.25 % nitrite weighed: A 5.7 g; typed wrongly", "dose check, flitch: met: A: 5.7 g", "alarm cleared, flitch: alarm 1 K4",
	} {
		if !strings.Contains(h.journal(), want) {
			t.Errorf("the journal does not say %q:\n%s", want, h.journal())
		}
	}
}

// A slab without its cure is told half an hour after the other got its own; going on
// all the same is a person's, by name.
func TestStoryOfAForgottenCure(t *testing.T) {
	h := newDoseHouse(t)
	h.dose("A", 5.7, "")
	h.minutes(29)
	if len(h.told) != 0 {
		t.Fatalf("told %+v", h.told)
	}
	h.minutes(1)
	if len(h.told) != 1 || h.told[0].Entry != "K4" || !strings.Contains(h.told[0].Body, "No cure was logged, and the other slabs have theirs") {
		t.Fatalf("told %+v", h.told)
	}
	h.say(process.Command{Kind: process.CommandStage, Stage: process.StageRinse, Text: "B was dosed at the butcher's"})
	if !strings.Contains(h.journal(), "stage, T.V.: stage rinse entered all the same: B was dosed at the butcher's") {
		t.Errorf("journal:\n%s", h.journal())
	}
	if n := len(h.told); n != 2 || h.told[1].Kind != alerts.Cleared {
		t.Errorf("told %+v", h.told)
	}
	h.minutes(60 * 13)
	if len(h.told) != 2 {
		t.Errorf("what was gone on from asks again: %+v", h.told[2:])
	}
}
