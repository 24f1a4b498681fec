package evidence

import (
	"testing"

	"flitch/process"
)

func TestARemovalReadsBack(t *testing.T) {
	want := Removal{Probe: `a "b" c, numbers 1 to 2`, FirstSeq: 3, LastSeq: 90, FirstMeasured: 1_900_000_000_123, LastMeasured: 1_900_000_900_000, Rows: 7}
	if got, ok := ParseRemoval(want.Text() + " by the rule: 30 days"); !ok || got != want {
		t.Errorf("%+v %v", got, ok)
	}
	for _, text := range []string{"", want.Text(), want.Text() + "by", "x" + want.Text() + " by", "7 readings of probe a, numbers 1 to 2, measured x to y by z"} {
		if got, ok := ParseRemoval(text); ok {
			t.Errorf("%q is taken for %+v", text, got)
		}
	}
}

// What a seal said of rows that are gone stands in for them, and only for those.
func TestASealWithWhatIsKnown(t *testing.T) {
	row := func(seq int64, probe string) *Row { return &Row{Seq: seq, Kind: process.InputReading, Probe: probe} }
	var all, some Sealer
	for _, r := range []*Row{row(1, "a"), row(2, "b"), row(3, "a"), row(4, "b")} {
		all.Take(r)
	}
	want, known := all.Seal(1, 4), all.Strands()
	for _, r := range []*Row{row(1, "a"), row(2, "b"), row(4, "b")} { // one of a is gone
		some.Take(r)
	}
	if got, missing := some.SealWith(1, 4, known); got != want || len(missing) != 1 || missing[0].Name != ProbeStrand("a") {
		t.Errorf("%+v, want %+v; %v", got, want, missing)
	}
	if got, _ := some.SealWith(1, 4, nil); got == want {
		t.Error("rows are missing, and the seal is the same")
	}
}
