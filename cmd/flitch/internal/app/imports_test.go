package app

import (
	"bytes"
	"encoding/json"
	"io"
	"math"
	"net/http"
	"slices"
	"strings"
	"testing"
	"time"

	"flitch/cmd/flitch/internal/api"
	"flitch/cmd/flitch/internal/config"
	"flitch/process"
)

// post sends JSON to the daemon's interface and reads the answer.
func (s *shop) post(path string, body, into any) (status int, text string) {
	s.t.Helper()
	return s.postAs("", path, body, into)
}

// postAs is post with the token of somebody who has signed in.
func (s *shop) postAs(token, path string, body, into any) (status int, text string) {
	s.t.Helper()
	data, err := json.Marshal(body)
	if err != nil {
		s.t.Fatal(err)
	}
	status, text = s.askAs(token, http.MethodPost, path, data)
	if status == http.StatusOK {
		if err := json.Unmarshal([]byte(text), into); err != nil {
			s.t.Fatal(err)
		}
	}
	return status, text
}

// askAs is any request with a token.
func (s *shop) askAs(token, method, path string, body []byte) (status int, text string) {
	s.t.Helper()
	r, err := http.NewRequest(method, s.app.Address()+path, bytes.NewReader(body))
	if err != nil {
		s.t.Fatal(err)
	}
	r.Header.Set("Authorization", "Bearer "+token)
	resp, err := http.DefaultClient.Do(r)
	if err != nil {
		s.t.Fatal(err)
	}
	defer resp.Body.Close()
	answer, err := io.ReadAll(resp.Body)
	if err != nil {
		s.t.Fatal(err)
	}
	return resp.StatusCode, string(answer)
}

// bring imports a value every five minutes between two times after dawn.
func (s *shop) bring(probe string, from, to time.Duration, value func(after time.Duration) float64) api.Imported {
	s.t.Helper()
	rows := api.ImportRows{Probe: probe, By: "T.V."}
	for after := from; after <= to; after += 5 * minute {
		rows.Rows = append(rows.Rows, [2]float64{float64(dawn.Add(after).UnixMilli()), value(after)})
	}
	var done api.Imported
	if status, text := s.post("/api/import", rows, &done); status != http.StatusOK {
		s.t.Fatalf("import: %d %s", status, text)
	}
	return done
}

func constant(v float64) func(time.Duration) float64 { return func(time.Duration) float64 { return v } }

// The fridge's board is dead, and the logger that lay beside it is read out: it was warm.
// That changes the verdict and wakes nobody; and the board is dead still, also after a
// restart.
func TestAnImportChangesTheVerdictAndRingsNobody(t *testing.T) {
	s := newShop(t)
	s.open()
	s.begin(raw)
	s.every(5*minute, 0, hour, func(time.Duration) { s.read("slow", 3) })
	s.every(5*minute, 65*minute, 6*hour, func(time.Duration) { s.say("shop/spare", "3.0") })
	s.phone.heard() // B2, of course
	if b := s.batch(); b.TrackOf(process.Product).Last.Value != 3 {
		t.Fatalf("last reading %+v", b.TrackOf(process.Product).Last)
	}
	for round, new := range []int{60, 0} { // brought twice
		if done := s.bring("slow", hour+5*minute, 6*hour, constant(9)); done.Stored != new || done.Stored+done.Known != 60 || len(done.Refused) != 0 {
			t.Errorf("round %d: %+v", round, done)
		}
	}
	want := func() {
		t.Helper()
		if got := s.clockOf(process.ClockCold); got.Sum < 290 || got.Verdict != process.NotMet {
			t.Errorf("out-of-cold clock %+v", got)
		}
		for _, h := range s.phone.heard() {
			if !strings.HasPrefix(h, "B2 ") || strings.Contains(h, "cleared") {
				t.Errorf("an import rang or ended an alarm: %s", h)
			}
		}
	}
	s.every(minute, 6*hour+minute, 7*hour, func(time.Duration) { s.say("shop/spare", "3.0") })
	want()
	s.close()
	s.open()
	s.every(minute, 7*hour+minute, 8*hour, func(time.Duration) { s.say("shop/spare", "3.0") })
	want()
	s.every(minute, 8*hour+minute, 8*hour+20*minute, func(time.Duration) { s.read("slow", 3); s.say("shop/spare", "3.0") })
	if got := strings.Join(s.phone.heard(), ";"); !strings.Contains(got, "B2 cleared") || strings.Contains(got, "C") && strings.Contains(got, "raised") {
		t.Errorf("after the board came back the phone heard %q", got)
	}
	s.must(process.Command{Kind: process.CommandStage, Stage: process.StageRinse, Text: "after an import"})
}

// A core that was chilled too slowly, as only the logger in it knew: the leg is not met, and
// the alarm of late chills stays silent. The control is the same core by radio.
func TestAnImportOfASlowChillRingsNobody(t *testing.T) {
	t.Parallel()
	warm := func(after time.Duration) float64 { return 20 + 50*math.Exp(-(after-3*hour).Hours()/12) }
	for _, live := range []bool{true, false} {
		s := newShop(t)
		s.open()
		s.begin(cooked)
		s.enter(cooked, process.StageCook)
		s.every(5*minute, 0, 3*hour, func(after time.Duration) { s.read("core", 20+after.Hours()*50/3); s.read("chamber", 80) })
		s.must(process.Command{Kind: process.CommandStage, Stage: process.StageChill})
		s.phone.heard()
		heard := ""
		s.every(5*minute, 3*hour+5*minute, 15*hour, func(after time.Duration) {
			s.read("slow", 3)
			if live {
				s.read("core", warm(after))
			}
		})
		heard += strings.Join(s.phone.heard(), ";")
		if !live {
			s.bring("core", 3*hour+5*minute, 15*hour, warm)
			s.every(minute, 15*hour+minute, 16*hour, func(time.Duration) { s.read("slow", 3) })
			heard += strings.Join(s.phone.heard(), ";")
		}
		if rang := strings.Contains(heard, "L"); rang != live {
			t.Errorf("live %t: the phone heard %q", live, heard)
		}
		if got := s.clockOf(process.ClockChillA); got.Verdict != process.NotMet {
			t.Errorf("live %t: chill leg %+v", live, got)
		}
		s.close()
	}
}

// What cannot be taken is told row by row, and the rest is taken. The note on the record is
// signed, and told once.
func TestImportedRowsAreJudged(t *testing.T) {
	s := newShop(t)
	s.open()
	s.begin(raw)
	s.at(2 * hour)
	s.read("slow", 3)
	ms := func(after time.Duration) float64 { return float64(dawn.Add(after).UnixMilli()) }
	rows := api.ImportRows{Probe: "slow", By: "T.V.", Rows: [][2]float64{
		{ms(hour), 3}, {ms(hour), 3}, {ms(hour), 4}, {ms(2 * hour), 8}, {ms(3 * hour), 3}, {ms(hour) + 0.5, 3}, {-5, 3}, {1e300, 3}, {ms(90 * minute), -127},
	}}
	var done api.Imported
	if status, text := s.post("/api/import", rows, &done); status != http.StatusOK {
		t.Fatalf("%d %s", status, text)
	}
	if done.Stored != 2 || done.Known != 1 || done.Bad != 1 {
		t.Errorf("%+v", done)
	}
	for i, want := range []struct {
		row int
		why string
	}{{2, "another reading, 3,"}, {3, "another reading, 3,"}, {4, "has not been yet"}, {5, "no time"}, {6, "no time"}, {7, "no time"}} {
		if i >= len(done.Refused) || done.Refused[i].Row != want.row || !strings.Contains(done.Refused[i].Why, want.why) {
			t.Fatalf("refused %+v, want %+v", done.Refused, want)
		}
	}
	said := api.ImportDone{Probe: "slow", By: "T.V.", File: "night.csv", SHA256: "0a1b", Rows: 2, From: dawn.Add(hour), To: dawn.Add(90 * minute)}
	for range 2 {
		var noted api.Noted
		if status, text := s.post("/api/import/done", said, &noted); status != http.StatusOK || len(noted.Open) != 1 {
			t.Fatalf("%d %s", status, text)
		}
	}
	if notes := s.batch().Notes; len(notes) != 1 || notes[0].By != "T.V." || !strings.Contains(notes[0].Text, "imported 2 readings of slow") || !strings.Contains(notes[0].Text, "SHA-256 0a1b") {
		t.Errorf("notes %+v", notes)
	}
	for _, bad := range []api.ImportRows{{Probe: "slow"}, {Probe: "oak", By: "T.V."}, {Probe: "slow", By: "T.V.", Rows: make([][2]float64, api.MostRows+1)}} {
		if status, text := s.post("/api/import", bad, nil); status != http.StatusUnprocessableEntity || !strings.Contains(text, "hint") {
			t.Errorf("%+v: %d %s", bad.Probe, status, text)
		}
	}
	var csv bytes.Buffer
	s.settle()
	if err := s.app.WriteRecord(t.Context(), "PS-02", "csv", &csv); err != nil || !strings.Contains(csv.String(), "slow,3,°C,suspect,imported") {
		t.Errorf("the record does not tell imported readings apart: %v\n%s", err, csv.String())
	}
}

// A fridge with nothing but a stand-alone logger in it: its silence is no alarm, its clock is
// not measured until the file is brought, and then it is met.
func TestALoggerThatIsReadOut(t *testing.T) {
	s := newShop(t)
	for i := range s.cfg.Probes {
		if p := &s.cfg.Probes[i]; p.Name == "slow" {
			p.ReadOut, p.Topic = true, ""
		}
	}
	s.cfg.Probes = slices.DeleteFunc(s.cfg.Probes, func(p config.Probe) bool { return p.Name == "spare" })
	s.open()
	s.begin(raw)
	s.every(minute, minute, 6*hour, func(time.Duration) {})
	s.wantHeard()
	before := s.clockOf(process.ClockCure)
	s.bring("slow", -minute, 6*hour, constant(3))
	s.every(minute, 6*hour+minute, 7*hour, func(time.Duration) {})
	s.wantHeard()
	if after := s.clockOf(process.ClockCure); before.Sum != 0 || before.Verdict != process.NotMeasured || after.Sum < 0.23 || after.Sum > 0.25 { // 6 h, a little less for 3 °C
		t.Errorf("cure clock %+v, then %+v", before, after)
	}
}

// Where people sign in, a curer imports and signs; a reviewer and a stranger do not.
func TestAnImportIsSigned(t *testing.T) {
	s, _ := signedShop(t)
	s.at(2 * hour)
	rows := api.ImportRows{Probe: "slow", By: "T.V.", Rows: [][2]float64{{float64(dawn.Add(hour).UnixMilli()), 3}}}
	said := api.ImportDone{Probe: "slow", By: "T.V.", File: "night.csv", SHA256: "0a1b", Rows: 1, From: dawn.Add(hour), To: dawn.Add(hour)}
	for _, c := range []struct {
		by, password string
		want         int
	}{{"", "", http.StatusUnauthorized}, {"M.O.", "salt and patience", http.StatusUnprocessableEntity}, {"T.V.", "oak smoke at night", http.StatusOK}} {
		var in struct{ Token string }
		if c.by != "" {
			s.post("/api/sign-in", map[string]string{"by": c.by, "password": c.password}, &in)
		}
		for path, body := range map[string]any{"/api/import": rows, "/api/import/done": said} {
			var ignored any
			if status, text := s.postAs(in.Token, path, body, &ignored); status != c.want {
				t.Errorf("%s as %q: %d %s", path, c.by, status, text)
			}
		}
	}
	if notes := s.batch().Notes; len(notes) != 1 || notes[0].By != "T.V." {
		t.Errorf("notes %+v", notes)
	}
}

// The file is brought first and the batch typed afterwards, for a time that has passed: it
// counts all the same, and rings nobody.
func TestAFileThatWasBroughtBeforeTheBatch(t *testing.T) {
	s := newShop(t)
	s.open()
	s.at(6 * hour)
	s.bring("slow", 0, 6*hour-5*minute, constant(9))
	batch, err := resolve(s.cfg, Request{Plan: raw, Pieces: []process.Piece{{Name: "A", GreenG: 2268, ThicknessMM: 38}}, Fridge: "alder", Smoker: "kettle"})
	if err != nil {
		t.Fatal(err)
	}
	s.must(process.Command{Kind: process.CommandNew, New: &batch, At: dawn})
	s.every(minute, 6*hour+minute, 6*hour+30*minute, func(time.Duration) { s.read("slow", 3); s.say("shop/spare", "3.0") })
	if got := s.clockOf(process.ClockCold); got.Sum < 350 || got.Verdict != process.NotMet {
		t.Errorf("out-of-cold clock %+v", got)
	}
	for _, h := range s.phone.heard() {
		if strings.HasPrefix(h, "C") {
			t.Errorf("an import rang: %s", h)
		}
	}
}

// What is brought after a batch was closed is on its record; its clocks stay as they were.
func TestAFileThatIsBroughtTooLate(t *testing.T) {
	s := newShop(t)
	s.open()
	s.begin(raw)
	s.every(5*minute, 0, hour, func(time.Duration) { s.say("shop/spare", "3.0") })
	s.must(process.Command{Kind: process.CommandClose, Text: "given away"})
	before := s.clockOf(process.ClockCold)
	s.at(2 * hour)
	s.bring("slow", 5*minute, 55*minute, constant(9))
	var noted api.Noted
	said := api.ImportDone{Probe: "slow", By: "T.V.", File: "night.csv", SHA256: "0a1b", Rows: 11, From: dawn.Add(5 * minute), To: dawn.Add(55 * minute)}
	if status, text := s.post("/api/import/done", said, &noted); status != http.StatusOK || !slices.Equal(noted.Closed, []string{"PS-02"}) || len(noted.Open) != 0 {
		t.Errorf("%d %s", status, text)
	}
	if after := s.clockOf(process.ClockCold); after.Sum != before.Sum || after.Verdict != before.Verdict {
		t.Errorf("a closed clock went from %+v to %+v", before, after)
	}
	var csv bytes.Buffer
	if err := s.app.WriteRecord(t.Context(), "PS-02", "csv", &csv); err != nil || strings.Count(csv.String(), ",imported") != 11 {
		t.Errorf("%v\n%s", err, csv.String())
	}
}
