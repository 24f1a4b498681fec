package app

import (
	"bytes"
	"fmt"
	"io"
	"math"
	"net/http"
	"strings"
	"testing"
	"time"

	"flitch/process"
	"flitch/process/plans"
)

// picture asks the page for a drawing and returns it.
func (s *shop) picture(path string) string {
	s.t.Helper()
	answer, err := http.Get(s.app.Address() + path)
	if err != nil {
		s.t.Fatal(err)
	}
	defer answer.Body.Close()
	body, err := io.ReadAll(answer.Body)
	if err != nil || answer.StatusCode != http.StatusOK {
		s.t.Fatalf("%s: %d %s %v", path, answer.StatusCode, body, err)
	}
	return string(body)
}

// late publishes a reading that was measured some time ago.
func (s *shop) late(probe string, after time.Duration, value float64) {
	s.t.Helper()
	s.say("shop/"+probe, fmt.Sprintf(`{"t":%q,"v":%.2f}`, dawn.Add(after).Format(time.RFC3339Nano), value))
}

// A daemon that was looked at all the time, was told late data, moved on to another stage
// and closed the batch draws what a fresh one draws, byte for byte.
func TestTheChartIsTheSameFromAFreshDaemon(t *testing.T) {
	s := newShop(t)
	s.open()
	s.begin(raw)
	look := func() (all []string) {
		for _, path := range []string{"chart.svg?width=344", "chart.json?width=1000", "chart.svg?hours=3"} {
			all = append(all, s.picture("/batches/PS-02/"+path))
		}
		return all
	}
	same := func(when string) {
		t.Helper()
		s.settle()
		before := look()
		s.close()
		s.open()
		for i, after := range look() {
			if after != before[i] {
				t.Errorf("%s: picture %d of a fresh daemon is another one", when, i)
			}
		}
	}
	s.every(minute, 0, 200*minute, func(after time.Duration) {
		if after < 60*minute || after > 90*minute { // the box was out of reach, and sends it later
			s.read("slow", 4+math.Sin(after.Hours()*3))
		}
		if int(after.Minutes())%37 == 0 {
			look()
		}
	})
	gap := look()
	same("with a gap")
	for m := 60; m <= 90; m++ {
		s.late("slow", time.Duration(m)*minute+7*time.Second, 9)
	}
	s.settle()
	if filled := look(); filled[0] == gap[0] || strings.Count(filled[1], "[[") != 1 {
		t.Error("the late readings are not in the picture")
	}
	same("after late data")
	asSent := look()
	s.must(process.Command{Kind: process.CommandChecked, At: dawn.Add(100 * minute), Check: &process.CheckSaid{Probe: "slow", Method: process.CheckIce, ReadC: 1.5, Correct: true}})
	s.every(minute, 201*minute, 230*minute, func(time.Duration) { s.read("slow", 6) })
	if corrected := look(); corrected[1] == asSent[1] || !strings.Contains(corrected[1], ",45,") {
		t.Error("6 °C that a check corrects by 1.5 K is not drawn as 4.5 °C")
	}
	s.say("shop/slow", `{"t":"`+s.clock.Now().Add(5*time.Second).Format(time.RFC3339)+`","v":85}`) // a power-on value between two: it does not count
	s.every(minute, 231*minute, 240*minute, func(time.Duration) { s.read("slow", 6) })
	if strings.Contains(look()[1], ",850,") {
		t.Error("a spike that did not count is drawn")
	}
	same("after a check and a spike")
	s.every(minute, 241*minute, 244*minute, func(time.Duration) { s.read("slow", 41); look() })
	same("while nothing counts")
	s.every(minute, 245*minute, 250*minute, func(time.Duration) { s.read("slow", 6); look() })
	same("when it counts again")
	s.must(process.Command{Kind: process.CommandClose, Text: "given away"})
	s.late("slow", 30*minute+11*time.Second, 12) // later than the end: of the batch's time all the same
	same("closed")
}

// onward goes from one stage of the plan to a later one, at once.
func (s *shop) onward(plan string, from, to process.StageName) {
	s.t.Helper()
	p, err := plans.BuiltIn(plan)
	if err != nil {
		s.t.Fatal(err)
	}
	begun := false
	for _, stage := range p.Stages {
		if begun && (!stage.Optional || stage.Name == to) {
			s.must(process.Command{Kind: process.CommandStage, Stage: stage.Name, Text: "a story"})
		}
		if stage.Name == to {
			return
		}
		begun = begun || stage.Name == from
	}
}

// A batch that is not there, or has nothing of a kind, says so.
func TestDrawingsThatAreNotThere(t *testing.T) {
	s := newShop(t)
	s.open()
	s.begin(raw)
	for path, want := range map[string]string{
		"/batches/PS-02/cook.svg": "nothing to draw of the cook", "/batches/PS-02/chill.svg": "nothing to draw of the chill",
		"/batches/PS-09/chart.svg": "there is no batch", "/batches/PS-09/chart": "PS-09",
	} {
		answer, err := http.Get(s.app.Address() + path)
		if err != nil {
			t.Fatal(err)
		}
		body, _ := io.ReadAll(answer.Body)
		answer.Body.Close()
		if answer.StatusCode != http.StatusNotFound || !strings.Contains(string(body), want) {
			t.Errorf("%s: %d %s", path, answer.StatusCode, body)
		}
	}
}

// Cure, cook and chill are drawn while the batch is there, from a whole run.
func TestEachStageHasItsDrawing(t *testing.T) {
	s := newShop(t)
	s.open()
	s.begin(cooked)
	s.every(10*minute, 0, 120*minute, func(time.Duration) { s.read("slow", 4) })
	drawn := s.picture("/batches/PS-02/cure.svg?width=344")
	for _, want := range []string{"Cure inside piece A", "at the deepest point", "counts as through: 90 %", ">about "} {
		if !strings.Contains(drawn, want) {
			t.Errorf("cure: no %q", want)
		}
	}
	s.must(process.Command{Kind: process.CommandStage, Stage: process.StageRinse, Text: "weighed, not logged"})
	s.onward(cooked, process.StageRinse, process.StageCook)
	core := func(after time.Duration) float64 { return 75 - 65*math.Exp(-math.Pow((after-120*minute).Hours()/2, 2)) } // slow at first, as meat is
	s.every(minute, 121*minute, 220*minute, func(after time.Duration) {
		s.read("chamber", 100)
		s.read("core", core(after))
	})
	drawn = s.picture("/batches/PS-02/cook.svg?width=344")
	for _, want := range []string{"Forecast for the core of piece A", "at the target: early ", "likely (dashes) ", "late ", ">now<", "80 % interval"} {
		if !strings.Contains(drawn, want) {
			t.Errorf("cook: no %q", want)
		}
	}
	s.onward(cooked, process.StageCook, process.StageChill)
	s.every(minute, 221*minute, 300*minute, func(after time.Duration) {
		s.read("slow", 3)
		s.read("spare", 2)
		s.read("core", 2+60*math.Exp(-(after-221*minute).Hours()))
	})
	drawn = s.picture("/batches/PS-02/chill.svg?width=344")
	for _, want := range []string{"Chill of batch PS-02", ">now<", ">core A<", " by 5 May "} {
		if !strings.Contains(drawn, want) {
			t.Errorf("chill: no %q", want)
		}
	}
	page := s.picture("/batches/PS-02/chart")
	if !strings.Contains(page, "chill.svg") || strings.Contains(page, "cook.svg") || strings.Contains(page, "cure.svg") {
		t.Error("the page does not show the chill alone")
	}
	if n := len(bytes.TrimSpace([]byte(page))) + len(s.picture("/static/flitch.css")) + len(s.picture("/static/live.js")) + len(s.picture("/static/hair.js")) +
		len(s.picture("/batches/PS-02/chart.svg?width=344")) + len(drawn); n > 100_000 {
		t.Errorf("the first view of the charts is %d bytes, at most 100,000", n)
	}
}
