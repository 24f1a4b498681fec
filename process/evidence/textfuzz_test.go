package evidence

import (
	"testing"
	"time"

	"flitch/process"
)

// Lines of a journal, seals and fingerprints that are read are those that are written.
func FuzzTexts(f *testing.F) {
	f.Add("seal 1..20 root 00", int64(3), "note", "T.V.", "prev")
	f.Add("SHA256:AAAA", int64(-1), "", "\x00", "")
	f.Add("", int64(0), "a\tb", "a\nb", "\xff")
	f.Fuzz(func(t *testing.T, text string, seq int64, kind, by, prev string) {
		_, _ = ParseSeal(text)
		if print, ok := ParseFingerprint(text); ok {
			if again, ok := ParseFingerprint(print); !ok || again != print {
				t.Errorf("%q is %q and then %q", text, print, again)
			}
		}
		line := process.JournalLine{Seq: seq, At: time.UnixMilli(seq).UTC(), Kind: kind, By: by, Text: text, Prev: prev}
		hash := JournalHash(line)
		other := line
		other.Text += "x"
		if JournalHash(other) == hash {
			t.Errorf("%q: the same hash with another text", text)
		}
		line.Hash = hash
		var chain Chain
		chain.Begin(line)
		if err := chain.Next(line); err != nil {
			t.Errorf("%+v: %v", line, err)
		}
	})
}
