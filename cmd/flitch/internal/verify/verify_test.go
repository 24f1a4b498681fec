package verify

import (
	"bytes"
	"crypto/ed25519"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"flitch/process"
	"flitch/process/evidence"
	"flitch/process/plans"
)

var noon = time.Date(2031, 5, 2, 12, 0, 0, 0, time.UTC)

// beginning is the command that begins a batch, as JSON.
func beginning(t testing.TB, change func(*process.Command)) []byte {
	t.Helper()
	plan, err := plans.BuiltIn("belly-dry-cured-fully-cooked")
	if err != nil {
		t.Fatal(err)
	}
	c := process.Command{ID: "n", Kind: process.CommandNew, Batch: "B", By: "T.V.", At: noon, Typed: noon, New: &process.NewBatch{Plan: plan,
		Pieces: []process.Piece{{Name: "A", GreenG: 2268, ThicknessMM: 38}},
		Probes: []process.PlacedProbe{{Probe: "p", Place: "alder", Placement: process.Product, Interval: time.Minute}}}}
	if change != nil {
		change(&c)
	}
	body, err := json.Marshal(c)
	if err != nil {
		t.Fatal(err)
	}
	return body
}

// sealed is a proof that is in order as far as hashes and signatures go: its author holds a key.
func sealed(t testing.TB, body []byte, asOf time.Time) []byte {
	t.Helper()
	key := ed25519.NewKeyFromSeed(make([]byte, 32))
	rows := []evidence.Row{{Seq: 1, Kind: process.InputCommand, At: noon.UnixMilli(), ID: "n", Batch: "B", Body: string(body)}}
	for i := range int64(20) {
		at := noon.UnixMilli() + 60_000*i
		rows = append(rows, evidence.Row{Seq: 2 + i, At: at, Probe: "p", Measured: at, Received: at, Value: 3})
	}
	var s evidence.Sealer
	for i := range rows {
		s.Take(&rows[i])
	}
	line := process.JournalLine{Seq: 1, At: noon, Kind: evidence.SealKind, By: "flitch", Text: s.Seal(1, 30).Text()}
	line.Hash = evidence.JournalHash(line)
	var file bytes.Buffer
	w := evidence.NewWriter(&file, evidence.Opening{Batch: "B", Probes: []string{"p"}, Seen: 30, AsOf: asOf.UnixMilli()})
	w.Record([]byte(`{"head":{"batch":"B"}}`))
	w.Journal(line)
	w.Signature(evidence.Sign(key, 1, line.Hash, noon.UnixMilli()))
	w.Seal(evidence.SealLine{Line: 1, Strands: s.Strands()})
	for i := range rows {
		w.Row(&rows[i])
	}
	end := evidence.Ending{SHA256: w.Sum(), MadeAt: noon, By: "test"}
	end.Sign(key, "B")
	if err := w.End(end); err != nil {
		t.Fatal(err)
	}
	return file.Bytes()
}

// Who holds a key can seal anything. What he says is still no reason to end or to hang.
func TestAProofOfNonsenseIsRefused(t *testing.T) {
	for _, c := range []struct {
		name string
		body []byte
		asOf time.Time
		says string
	}{
		{"nothing new", []byte(`{"id":"n","batch":"B","kind":"note","at":"2031-05-02T12:00:00Z"}`), noon, "nothing says that batch B was begun"},
		{"no plan", []byte(`{"id":"n","batch":"B","kind":"new","at":"2031-05-02T12:00:00Z","new":{}}`), noon, "nothing says that batch B was begun"},
		{"another batch", []byte(`{"id":"n","batch":"C","kind":"new"}`), noon, "it is filed as"},
		{"no JSON", []byte(`{`), noon, "cannot be read"},
		{"a record of the year 9000", beginning(t, nil), time.Date(9000, 1, 1, 0, 0, 0, 0, time.UTC), "the record speaks of"},
		{"a batch of Rome", beginning(t, func(c *process.Command) { c.At = time.Date(1, 1, 2, 0, 0, 0, 0, time.UTC) }), noon, "says that it happened"},
		{"a piece without weight", beginning(t, func(c *process.Command) { c.New.Pieces = nil }), noon.Add(time.Hour), "the record"},
	} {
		t.Run(c.name, func(t *testing.T) {
			report := Proof(bytes.NewReader(sealed(t, c.body, c.asOf)), "")
			if report.First() == nil {
				t.Fatalf("it is taken:\n%v", report)
			}
			text := ""
			for _, f := range report {
				text += f.String() + "\n"
			}
			if !strings.Contains(text, c.says) && c.says != "the record" {
				t.Errorf("it does not say %q:\n%s", c.says, text)
			}
		})
	}
}

func FuzzBegin(f *testing.F) {
	f.Add(beginning(f, nil), int64(3600))
	f.Add(beginning(f, func(c *process.Command) { c.New.Plan.Stages = c.New.Plan.Stages[:1] }), int64(1e9))
	f.Fuzz(func(t *testing.T, body []byte, seconds int64) {
		if seconds < 0 || seconds > 1e9 {
			return
		}
		if report := Proof(bytes.NewReader(sealed(t, body, noon.Add(time.Duration(seconds)*time.Second))), ""); len(report) == 0 {
			t.Error("nothing was said")
		}
	})
}

func TestWhatIsNoDatabase(t *testing.T) {
	folder := t.TempDir()
	for name, text := range map[string]string{"empty.db": "", "rubbish.db": strings.Repeat("rubbish ", 2000), "head.db": "SQLite format 3\x00" + strings.Repeat("\xff", 5000)} {
		path := filepath.Join(folder, name)
		if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		if report, err := Database(t.Context(), path, ""); err == nil && report.First() == nil {
			t.Errorf("%s is taken for a database:\n%v", name, report)
		}
		if after, err := os.ReadFile(path); err != nil || string(after) != text {
			t.Errorf("%s was changed", name)
		}
	}
	if left, err := filepath.Glob(filepath.Join(folder, "*")); err != nil || len(left) != 3 {
		t.Errorf("files were left behind: %v", left)
	}
	if _, err := Database(t.Context(), filepath.Join(folder, "none.db"), ""); err == nil {
		t.Error("a database that is not there was looked at")
	}
}

func TestWhatOlderVersionsDidNotStore(t *testing.T) {
	for _, c := range []struct {
		stated, found string
		same          bool
	}{
		{`[{"a":1}]`, `[{"id":"x","a":1}]`, true}, {`null`, `[]`, true}, {`[]`, `null`, true}, {`{"a":1.50}`, `{"a":1.50}`, true},
		{`[{"a":1,"id":"y"}]`, `[{"id":"x","a":1}]`, false}, {`[{}]`, `[{"a":1}]`, false}, {`[{"a":1,"b":2}]`, `[{"a":1}]`, false},
		{`[]`, `[{"id":"x"}]`, false}, {`[1,2]`, `[2,1]`, false}, {`null`, `{"a":1}`, false}, {`{"a":null}`, `{"a":0}`, false}, {`{"a":1}`, `null`, false},
	} {
		if got := sameJSON(json.RawMessage(c.stated), json.RawMessage(c.found)); got != c.same {
			t.Errorf("%s and %s: %v", c.stated, c.found, got)
		}
	}
}
