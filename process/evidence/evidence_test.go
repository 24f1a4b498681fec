package evidence

import (
	"bytes"
	"crypto/ed25519"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"flitch/process"
)

// The documented bytes: what is written here can be made with printf and sha256sum.
func TestBytesAreAsDocumented(t *testing.T) {
	device := int64(7)
	for _, c := range []struct {
		row  Row
		want string
	}{
		{Row{Seq: 12, Kind: process.InputTick, At: 60000}, "2:12,4:tick,5:60000,"},
		{Row{Seq: 3, Kind: process.InputCommand, At: -5, ID: "x", Batch: "B", Body: `{"a":"ö"}`}, "1:3,7:command,2:-5,1:x,1:B,10:{\"a\":\"ö\"},"},
		{Row{Seq: 1, At: 9, Probe: "p", Measured: 8, Received: 9, Value: 3.25}, "1:1,7:reading,1:9,1:p,1:8,1:9,16:400a000000000000,"},
		{Row{Seq: 1, At: 9, Probe: "p", Measured: 8, Received: 9, Value: math.NaN(), Mark: &Mark{Quality: process.Bad, Reason: "sentinel", Raw: "-127"}},
			"1:1,7:reading,1:9,1:p,1:8,1:9,0:,1:2,8:sentinel,0:,4:-127,"},
		{Row{Seq: 1, At: 9, Probe: "p", Measured: 8, Received: 9, Value: math.Copysign(0, -1), Mark: &Mark{Device: &device}},
			"1:1,7:reading,1:9,1:p,1:8,1:9,16:8000000000000000,1:0,0:,1:7,0:,"},
	} {
		if got := string(c.row.Append(nil)); got != c.want {
			t.Errorf("%+v is\n%s, want\n%s", c.row, got, c.want)
		}
	}
	if got := JournalHash(process.JournalLine{Seq: 1, At: time.UnixMilli(0), Kind: "note", Text: "hi"}); got != digest([]byte("1:1,1:0,0:,4:note,0:,2:hi,0:,")) {
		t.Errorf("hash of a line: %s", got)
	}
	sig := Signature{Line: 4, Hash: "ab", At: 5}
	if got := string(sig.Message()); got != "19:flitch journal head,1:4,2:ab,1:5," {
		t.Errorf("what is signed: %s", got)
	}
}

// No two rows have the same bytes: a field cannot be moved into the next.
func TestDifferentRowsHaveDifferentBytes(t *testing.T) {
	zero := int64(0)
	rows := []Row{
		{Kind: process.InputCommand, ID: "ab", Batch: "c"}, {Kind: process.InputCommand, ID: "a", Batch: "bc"}, {Kind: process.InputTick},
		{Probe: "p"}, {Probe: "p", Value: math.NaN()}, {Probe: "p", Mark: &Mark{}}, {Probe: "p", Mark: &Mark{Device: &zero}},
		{Probe: "p", Mark: &Mark{Reason: "a"}}, {Probe: "p", Mark: &Mark{Raw: "a"}}, {Probe: "p", Measured: 1}, {Probe: "p", Received: 1}, {Probe: "p", At: 1},
		{Probe: "p", Value: math.Inf(1)}, {Probe: "p", Value: math.SmallestNonzeroFloat64},
	}
	seen := map[string]int{}
	for i, r := range rows {
		text := string(r.Append(nil))
		if j, twice := seen[text]; twice {
			t.Errorf("rows %d and %d are both %s", j, i, text)
		}
		seen[text] = i
	}
}

func TestASealReadsBack(t *testing.T) {
	var s Sealer
	for seq := int64(3); seq < 90; seq++ {
		if !s.Take(&Row{Seq: seq, Probe: string(rune('a' + seq%3)), Value: float64(seq)}) {
			t.Fatal(seq)
		}
	}
	seal := s.Seal(1, 100)
	if seal.Rows != 87 || len(s.Strands()) != 3 || s.Strands()[0].Name != "probe a" {
		t.Errorf("%+v %+v", seal, s.Strands())
	}
	if s.Take(&Row{Seq: 4, Probe: "a"}) {
		t.Error("a row out of order was taken")
	}
	unsigned := seal
	unsigned.Unsigned = "the key could not be read"
	for _, want := range []Seal{seal, unsigned} {
		if got, ok := ParseSeal(want.Text()); !ok || got != want {
			t.Errorf("%q is read as %+v", want.Text(), got)
		}
	}
	for _, bad := range []string{"", "numbers 1 to 2", seal.Text() + " ", strings.Replace(seal.Text(), "1 to", "01 to", 1), strings.Replace(seal.Text(), "1 to 100", "5 to 4", 1)} {
		if _, ok := ParseSeal(bad); ok {
			t.Errorf("%q is taken for a seal", bad)
		}
	}
}

func TestFingerprintsAsPeopleTypeThem(t *testing.T) {
	name := Fingerprint(make(ed25519.PublicKey, 32))
	hex := strings.TrimPrefix(name, fingerprintPrefix)
	for _, typed := range []string{name, hex, strings.ToUpper(hex), " " + hex + "\n", "sha256:" + hex, hex[:32] + " " + hex[32:], hex[:2] + ":" + hex[2:]} {
		if got, ok := ParseFingerprint(typed); !ok || got != name {
			t.Errorf("%q is read as %q", typed, got)
		}
	}
	for _, typed := range []string{"", "flitch.pem", hex[1:], hex + "0", strings.Replace(hex, hex[:1], "g", 1)} {
		if got, ok := ParseFingerprint(typed); ok {
			t.Errorf("%q is read as %q", typed, got)
		}
	}
}

// small is a proof of four rows of a batch, as another program might write it.
func small() []byte {
	key := ed25519.NewKeyFromSeed(make([]byte, 32))
	rows := []Row{
		{Seq: 1, Kind: process.InputCommand, At: 10, ID: "n", Batch: "B", Body: `{"id":"n","kind":"new","batch":"B","by":"T.V.","at":"1970-01-01T00:00:00Z","typed":"1970-01-01T00:00:00Z"}`},
		{Seq: 2, At: 11, Probe: "p", Measured: 9, Received: 11, Value: 3.5},
		{Seq: 3, At: 12, Probe: "p", Measured: 10, Received: 12, Value: math.NaN(), Mark: &Mark{Quality: process.Bad, Reason: "it is \"no\" number", Raw: "\xff\x00"}},
		{Seq: 4, At: 12, Probe: "other", Measured: 10, Received: 12, Value: 1},
	}
	var s Sealer
	for i := range rows {
		s.Take(&rows[i])
	}
	line := process.JournalLine{Seq: 1, At: timeOf(13), Kind: SealKind, By: "flitch", Text: s.Seal(1, 5).Text()}
	line.Hash = JournalHash(line)
	var file bytes.Buffer
	w := NewWriter(&file, Opening{Batch: "B", Probes: []string{"p"}, Seen: 5, AsOf: 13})
	w.Record([]byte(`{"head":{"batch":"B"}}`))
	w.Journal(line)
	w.Signature(Sign(key, 1, line.Hash, 13))
	w.Seal(SealLine{Line: 1, Strands: s.Strands()})
	for i := range rows {
		if w.Wants(&rows[i]) {
			w.Row(&rows[i])
		}
	}
	end := Ending{SHA256: w.Sum(), MadeAt: timeOf(14), By: "test"}
	end.Sign(key, "B")
	if err := w.End(end); err != nil {
		panic(err)
	}
	return file.Bytes()
}

func TestAFileReadsBackExactly(t *testing.T) {
	f, report := Read(bytes.NewReader(small()), "")
	if f == nil || report.First() != nil {
		t.Fatal(report)
	}
	var got []process.Reading
	err := f.EachReading([]string{"p"}, time.Time{}, time.Time{}, func(_ int64, r process.Reading) error { got = append(got, r); return nil })
	if err != nil || len(got) != 2 || got[0].Value != 3.5 || !math.IsNaN(got[1].Value) || got[1].Raw != "\xff\x00" || got[1].Quality != process.Bad {
		t.Errorf("%+v, %v", got, err)
	}
	if !got[0].Device.Equal(got[0].Measured) {
		t.Errorf("device time %v: what is plain and was measured before it came carried its time", got[0].Device)
	}
	if said, err := f.Commands("B"); err != nil || len(said) != 1 || said[0].Command.By != "T.V." {
		t.Errorf("%+v, %v", said, err)
	}
}

// Every single byte of a small proof, each of its eight bits: none is missed.
func TestEveryBitOfASmallProof(t *testing.T) {
	text := plain(t, small())
	for at := range text {
		for bit := range 8 {
			file := bytes.Clone(text)
			file[at] ^= 1 << bit
			if _, report := Read(bytes.NewReader(file), ""); report.First() == nil {
				t.Errorf("bit %d of byte %d (%q) was not found", bit, at, text[max(0, at-10):min(len(text), at+10)])
			}
		}
		if _, report := Read(bytes.NewReader(text[:at]), ""); report.First() == nil {
			t.Errorf("cut off at %d, and not found", at)
		}
	}
}

func plain(t testing.TB, packed []byte) []byte {
	t.Helper()
	lines, err := newLineReader(bytes.NewReader(packed))
	if err != nil {
		t.Fatal(err)
	}
	var out []byte
	for {
		if _, err := lines.next(); err != nil {
			return out
		}
		out = append(out, lines.buf...)
	}
}

// Whatever a file holds, reading it ends, takes no more than the file is worth, and a file
// that is not the seed is not taken for one that is as it was written by the seed's key.
func FuzzRead(f *testing.F) {
	packed := small()
	text := plain(f, packed)
	f.Add(packed)
	f.Add(text)
	f.Add([]byte("proof {}\nrecord {}\njournal {}\nend {}\n"))
	f.Add([]byte("\x1f\x8b\x08\x00\x00\x00\x00\x00\x00\xff"))
	key := Fingerprint(ed25519.NewKeyFromSeed(make([]byte, 32)).Public().(ed25519.PublicKey))
	f.Fuzz(func(t *testing.T, data []byte) {
		file, report := Read(bytes.NewReader(data), key)
		if len(report) == 0 {
			t.Fatal("nothing was said")
		}
		if file == nil || report.First() != nil || bytes.Equal(data, text) || bytes.Equal(data, packed) {
			return
		}
		if slices.ContainsFunc(report, func(g Finding) bool { return g.What == "whole file" && g.Word == Met }) && !bytes.Equal(plain(t, data), text) {
			t.Errorf("%q is taken for signed", data)
		}
	})
}
