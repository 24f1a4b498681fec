package app

import (
	"bytes"
	"crypto/ed25519"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"flitch/cmd/flitch/internal/verify"
	"flitch/process"
	"flitch/process/evidence"
)

// A forger changes the lines of a proof. It knows the format, and signs the whole with a key
// of its own, so that what is inside has to be found by what is inside.
type forger struct {
	chance *rand.Rand
	lines  []string
	key    ed25519.PrivateKey
}

// pick is the place of a line with the word, by chance.
func (f *forger) pick(words ...string) int {
	var at []int
	for i, l := range f.lines {
		if word, _, _ := strings.Cut(l, " "); slices.Contains(words, word) {
			at = append(at, i)
		}
	}
	return at[f.chance.IntN(len(at))]
}

// field changes one field of a reading: seq 0, probe 1, at 2, measured 3, received 4, value 5.
func (f *forger) field(n int, change func(string) string) {
	i := f.pick("read")
	word, text, _ := strings.Cut(f.lines[i], " ")
	fields := strings.Split(text, " ")
	fields[n] = change(fields[n])
	f.lines[i] = word + " " + strings.Join(fields, " ")
}

func (f *forger) earlier(text string) string {
	var ms int64
	fmt.Sscan(text, &ms)
	return fmt.Sprint(ms - 1 - f.chance.Int64N(1e7))
}

// edit decodes the JSON of a line with the word, lets change work on it, and puts it back.
func edit[T any](f *forger, word string, change func(*T)) {
	i := f.pick(word)
	var v T
	if err := json.Unmarshal([]byte(f.lines[i][len(word)+1:]), &v); err != nil {
		panic(err)
	}
	change(&v)
	text, err := json.Marshal(v)
	if err != nil {
		panic(err)
	}
	f.lines[i] = word + " " + string(text)
}

// replace changes a text of a line with the word.
func (f *forger) replace(word, old, text string) {
	for n := 0; n < 200; n++ {
		if i := f.pick(word); strings.Contains(f.lines[i], old) {
			f.lines[i] = strings.Replace(f.lines[i], old, text, 1)
			return
		}
	}
	panic(word + " has no " + old)
}

func (f *forger) swap(i, j int) { f.lines[i], f.lines[j] = f.lines[j], f.lines[i] }

// sign makes the ending anew, with the forger's key.
func (f *forger) sign(batch string) {
	f.lines = f.lines[:len(f.lines)-1]
	sum := sha256.New()
	for _, l := range f.lines {
		sum.Write([]byte(l + "\n"))
	}
	end := evidence.Ending{SHA256: hex.EncodeToString(sum.Sum(nil)), MadeAt: dawn, By: "test"}
	end.Sign(f.key, batch)
	text, err := json.Marshal(end)
	if err != nil {
		panic(err)
	}
	f.lines = append(f.lines, "end "+string(text))
}

// forgeries are the changes to a proof that are made, and for how many of them.
var forgeries = []struct {
	name  string
	times int
	forge func(*forger)
}{
	{"drop a reading", 100, func(f *forger) { i := f.pick("read"); f.lines = slices.Delete(f.lines, i, i+1) }},
	{"drop what was said", 50, func(f *forger) { i := f.pick("said"); f.lines = slices.Delete(f.lines, i, i+1) }},
	{"drop a line of the journal", 100, func(f *forger) { i := f.pick("journal"); f.lines = slices.Delete(f.lines, i, i+1) }},
	{"drop a seal and its rows", 50, func(f *forger) {
		i := f.pick("seal")
		n := i + 1
		for word := ""; word != "seal" && word != "end"; n++ {
			word, _, _ = strings.Cut(f.lines[n], " ")
		}
		f.lines = slices.Delete(f.lines, i, n-1)
	}},
	{"drop a signature", 50, func(f *forger) { i := f.pick("signature"); f.lines = slices.Delete(f.lines, i, i+1) }},
	{"swap two readings", 100, func(f *forger) {
		i, j := f.pick("read"), f.pick("read")
		for i == j {
			j = f.pick("read")
		}
		f.swap(i, j)
	}},
	{"swap two lines of the journal", 50, func(f *forger) {
		i, j := f.pick("journal"), f.pick("journal")
		for i == j {
			j = f.pick("journal")
		}
		f.swap(i, j)
	}},
	{"a reading at an earlier time", 100, func(f *forger) { f.field(3, f.earlier) }},
	{"a reading received earlier", 50, func(f *forger) { f.field(4, f.earlier) }},
	{"a reading taken in earlier", 50, func(f *forger) { f.field(2, f.earlier) }},
	{"another value", 150, func(f *forger) {
		f.field(5, func(old string) string {
			return old[:15] + string("0123456789abcdef"[(strings.IndexByte("0123456789abcdef", old[15])+1+f.chance.IntN(15))%16])
		})
	}},
	{"a reading of another probe", 100, func(f *forger) {
		f.field(1, func(old string) string { return fmt.Sprint((int(old[0]-'0') + 1 + f.chance.IntN(3)) % 4) })
	}},
	{"another number", 50, func(f *forger) { f.field(0, func(old string) string { return old + "1" }) }},
	{"a reading twice", 30, func(f *forger) { i := f.pick("read"); f.lines = slices.Insert(f.lines, i, f.lines[i]) }},
	{"another note", 20, func(f *forger) { f.replace("said", "wind", "sun ") }},
	{"another hand reading", 20, func(f *forger) { f.replace("said", `\"value\":66`, `\"value\":71`) }},
	{"another plan", 30, func(f *forger) { f.replace("said", `\"limit_min\":`, `\"limit_min\":1`) }},
	{"what was said at an earlier time", 50, func(f *forger) {
		type said struct {
			Seq   int64  `json:"seq"`
			At    int64  `json:"at"`
			ID    string `json:"id"`
			Batch string `json:"batch"`
			Body  string `json:"body"`
		}
		edit(f, "said", func(s *said) { s.At -= 60_000 })
	}},
	{"what was said, back-dated", 30, func(f *forger) {
		i := f.pick("said")
		f.lines = slices.Insert(f.lines, i+1, strings.Replace(strings.Replace(f.lines[i], `"seq":`, `"seq":1`, 1), `"id":"`, `"id":"x`, 1))
	}},
	{"another text in the journal", 100, func(f *forger) { edit(f, "journal", func(l *process.JournalLine) { l.Text += "." }) }},
	{"another time in the journal", 50, func(f *forger) {
		edit(f, "journal", func(l *process.JournalLine) { l.At = l.At.Add(-time.Minute) })
	}},
	{"another person in the journal", 30, func(f *forger) { edit(f, "journal", func(l *process.JournalLine) { l.By = "M.O." }) }},
	{"a line behind the journal, with the right chain", 30, func(f *forger) {
		i := f.pick("signature")
		for !strings.HasPrefix(f.lines[i-1], "journal ") {
			i--
		}
		var l process.JournalLine
		if err := json.Unmarshal([]byte(f.lines[i-1][8:]), &l); err != nil {
			panic(err)
		}
		l.Seq, l.Prev, l.Kind, l.Text = l.Seq+1, l.Hash, "note", "all was well"
		l.Hash = evidence.JournalHash(l)
		text, _ := json.Marshal(l)
		f.lines = slices.Insert(f.lines, i, "journal "+string(text))
	}},
	{"the journal written anew behind a change", 30, rechained},
	{"another signature", 50, func(f *forger) {
		edit(f, "signature", func(s *evidence.Signature) { s.Sig[f.chance.IntN(64)] ^= byte(1 << f.chance.IntN(8)) })
	}},
	{"a signature of another time", 30, func(f *forger) { edit(f, "signature", func(s *evidence.Signature) { s.At-- }) }},
	{"another count in a strand", 50, func(f *forger) { edit(f, "seal", func(s *evidence.SealLine) { s.Strands[0].Rows++ }) }},
	{"a strand left out", 50, func(f *forger) { edit(f, "seal", func(s *evidence.SealLine) { s.Strands = s.Strands[1:] }) }},
	{"another verdict", 20, func(f *forger) { f.replace("record", `"verdict":"not met"`, `"verdict":"met"`) }},
	{"another sum", 20, func(f *forger) { f.replace("record", `"sum":`, `"sum":1`) }},
	{"another stage", 20, func(f *forger) { f.replace("record", `"name":"rinse"`, `"name":"dry"`) }},
	{"another count of readings", 20, func(f *forger) { f.replace("record", `"count":`, `"count":1`) }},
	{"another hash of the plan", 20, func(f *forger) { f.replace("record", `"hash":"`, `"hash":"0`) }},
	{"the record of a later moment", 20, func(f *forger) { edit(f, "proof", func(o *evidence.Opening) { o.Seen += 100_000 }) }},
	{"a probe left out", 20, func(f *forger) { edit(f, "proof", func(o *evidence.Opening) { o.Probes = o.Probes[:len(o.Probes)-1] }) }},
}

// rechained changes a line of the journal and makes the hashes of all behind it anew.
func rechained(f *forger) {
	i := f.pick("journal")
	prev := ""
	for n := i; strings.HasPrefix(f.lines[n], "journal "); n++ {
		var l process.JournalLine
		if err := json.Unmarshal([]byte(f.lines[n][8:]), &l); err != nil {
			panic(err)
		}
		if n == i {
			l.By = "M.O."
		} else {
			l.Prev = prev
		}
		l.Hash = evidence.JournalHash(l)
		prev = l.Hash
		text, _ := json.Marshal(l)
		f.lines[n] = "journal " + string(text)
	}
}

// TestEveryChangeOfAProofIsFound: more than 2,000 of them, none missed.
func TestEveryChangeOfAProofIsFound(t *testing.T) {
	t.Parallel()
	s := newShop(t)
	s.open()
	s.smallBatch()
	packed, key := s.proves("PS-02", s.app.RecordKey()), s.app.RecordKey()
	s.close()
	text := plainText(t, packed)
	honest := strings.Split(strings.TrimSuffix(string(text), "\n"), "\n")
	forged := ed25519.NewKeyFromSeed(make([]byte, 32))
	chance := rand.New(rand.NewPCG(7, 1))
	made := 0
	for _, kind := range forgeries {
		missed := 0
		example := ""
		for range kind.times {
			f := &forger{chance, slices.Clone(honest), forged}
			kind.forge(f)
			f.sign("PS-02")
			report := verify.Proof(strings.NewReader(strings.Join(f.lines, "\n")+"\n"), "")
			if bad := report.First(); bad != nil {
				example = bad.What + ": " + bad.Text
			} else {
				missed++
			}
			made++
		}
		t.Logf("%4d × %-48s missed %d, such as %.150s", kind.times, kind.name, missed, example)
		if missed > 0 {
			t.Errorf("%s: %d of %d were not found", kind.name, missed, kind.times)
		}
	}
	made += everyByte(t, text, packed, chance)
	if made < 2000 {
		t.Errorf("only %d changes were made", made)
	}
	// Who signs all of it anew with another key cannot be found without the key: that is what
	// the report says. With it, he is.
	f := &forger{chance, slices.Clone(honest), forged}
	f.sign("PS-02")
	if report := verify.Proof(strings.NewReader(strings.Join(f.lines, "\n")+"\n"), key); report.First() == nil {
		t.Errorf("a file signed by another key than the one given is not found:\n%s", lines(report))
	}
	t.Logf("%d changes", made)
}

// everyByte flips bytes of the text and of the packed file, and cuts both off, without
// signing anything anew.
func everyByte(t *testing.T, text, packed []byte, chance *rand.Rand) (made int) {
	missed, same := 0, 0
	look := func(file []byte, how string, at int) {
		made++
		if verify.Proof(bytes.NewReader(file), "").First() != nil {
			return
		}
		// By the rule: a file that unpacks to the same text is the same proof. Some bits of the
		// packing say nothing: what fills up its last byte.
		if bytes.Equal(unpacked(file), text) {
			same++
			return
		}
		missed++
		t.Errorf("%s at byte %d was not found", how, at)
	}
	for range 200 {
		at := chance.IntN(len(text))
		file := bytes.Clone(text)
		file[at] ^= byte(1 << chance.IntN(8))
		look(file, "a flipped bit of the text", at)
		look(text[:at], "the end of the text cut off", at)
	}
	for range 100 {
		at := chance.IntN(len(packed))
		file := bytes.Clone(packed)
		file[at] ^= byte(1 + chance.IntN(255))
		look(file, "a changed byte of the file", at)
		look(packed[:at], "the end of the file cut off", at)
	}
	look(append(bytes.Clone(packed), 0), "a byte behind the file", len(packed))
	look(append(bytes.Clone(packed), packed...), "the file twice", len(packed))
	t.Logf("%4d bytes flipped and ends cut off: missed %d, the same text after it %d", made, missed, same)
	return made
}
