package block

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"
)

// readings are what a probe of a fridge sends: every five seconds with some milliseconds of
// jitter, a slow wave and noise, in steps.
func readings(n int, step float64, seed uint64) []Row {
	chance := rand.New(rand.NewPCG(seed, 1))
	rows := make([]Row, n)
	seq := int64(1000)
	for i := range rows {
		seq += 9 + chance.Int64N(7)
		at := int64(1_772_366_400_000) + int64(i)*5000 + int64(chance.NormFloat64()*8)
		value := 3.5 + 1.5*math.Sin(float64(i)/240) + 0.08*chance.NormFloat64()
		rows[i] = Row{Seq: seq, Measured: at, Received: at + 12 + chance.Int64N(20), Value: math.Round(value/step) / math.Round(1/step)}
	}
	return rows
}

func mustHold(t interface {
	Helper()
	Fatalf(string, ...any)
}, rows []Row) []byte {
	t.Helper()
	b, err := Encode(rows)
	if err != nil {
		t.Fatalf("%v", err)
	}
	got, err := Decode(b)
	if err != nil || len(got) != len(rows) {
		t.Fatalf("%d rows of %d, %v", len(got), len(rows), err)
	}
	for i := range rows {
		if !Same(got[i], rows[i]) {
			t.Fatalf("row %d went in as %+v and came out as %+v", i, rows[i], got[i])
		}
	}
	return b
}

// Whatever rows go in, they come out bit for bit.
func TestAnyRowsComeOutAsTheyWentIn(t *testing.T) {
	number := rapid.OneOf(rapid.Int64(), rapid.Int64Range(-20, 20), rapid.Just[int64](math.MinInt64), rapid.Just[int64](math.MaxInt64))
	value := rapid.OneOf(rapid.Float64(), rapid.Map(rapid.IntRange(-999, 1300), func(i int) float64 { return float64(i) / 10 }),
		rapid.Map(rapid.IntRange(-999, 1300), func(i int) float64 { return (float64(i)/10 - 32) / 1.8 }),
		rapid.SampledFrom([]float64{math.NaN(), math.Inf(1), math.Inf(-1), math.Copysign(0, -1), 0, 85, -127, math.MaxFloat64, math.SmallestNonzeroFloat64, 1 << 53, 0.1 + 0.2}))
	text := rapid.OneOf(rapid.Just(""), rapid.SampledFrom([]string{"spike", "\xff\x00", "imported from x.csv"}), rapid.Map(rapid.SliceOf(rapid.Byte()), func(b []byte) string { return string(b) }))
	mark := rapid.Custom(func(t *rapid.T) *Mark {
		if rapid.Bool().Draw(t, "plain") {
			return nil
		}
		m := &Mark{Quality: rapid.Int64Range(0, 2).Draw(t, "quality"), Reason: text.Draw(t, "reason"), Raw: text.Draw(t, "raw"), HasDevice: rapid.Bool().Draw(t, "d"), HasAt: rapid.Bool().Draw(t, "a")}
		if m.HasDevice {
			m.Device = number.Draw(t, "device")
		}
		if m.HasAt {
			m.At = number.Draw(t, "at")
		}
		return m
	})
	rapid.Check(t, func(t *rapid.T) {
		rows := make([]Row, rapid.IntRange(1, 60).Draw(t, "rows"))
		seq := rapid.Int64Range(math.MinInt64, math.MaxInt64-10_000).Draw(t, "first")
		few := rapid.Bool().Draw(t, "values of few digits")
		for i := range rows {
			rows[i] = Row{Seq: seq, Measured: number.Draw(t, "measured"), Received: number.Draw(t, "received"), Value: value.Draw(t, "value"), Mark: mark.Draw(t, "mark")}
			if few {
				rows[i].Value = math.Round(rows[i].Value*16) / 16
			}
			seq += rapid.Int64Range(1, 100).Draw(t, "step")
		}
		mustHold(t, rows)
	})
}

func TestOneRowAndTheMost(t *testing.T) {
	mustHold(t, readings(1, 0.1, 1))
	mustHold(t, readings(MaxRows, 0.1, 1))
	mustHold(t, []Row{{Seq: math.MinInt64, Measured: math.MaxInt64, Received: math.MinInt64, Value: math.NaN()}, {Seq: math.MaxInt64, Measured: math.MinInt64, Received: math.MaxInt64, Value: math.Inf(-1)}})
	for name, rows := range map[string][]Row{"none": nil, "too many": readings(MaxRows+1, 0.1, 1), "backwards": {{Seq: 2}, {Seq: 1}}, "twice": {{Seq: 2}, {Seq: 2}},
		"a long text": {{Mark: &Mark{Raw: string(make([]byte, MaxText+1))}}}, "no quality": {{Mark: &Mark{Quality: -1}}}} {
		if _, err := Encode(rows); err == nil {
			t.Errorf("%s: packed", name)
		}
	}
	big := make([]Row, 200)
	for i := range big {
		big[i] = Row{Seq: int64(i), Mark: &Mark{Raw: fmt.Sprint(i, string(make([]byte, MaxText-10)))}}
	}
	if _, err := Encode(big); err == nil {
		t.Error("marks of 13 MB: packed")
	}
}

// Readings as they come take far less than four bytes each.
func TestAReadingTakesFewBytes(t *testing.T) {
	for _, step := range []float64{0.1, 0.0625, 0.01} {
		rows := readings(4096, step, 7)
		each := float64(len(mustHold(t, rows))) / float64(len(rows))
		t.Logf("in steps of %v: %.2f bytes a reading", step, each)
		if each > 3.2 {
			t.Errorf("in steps of %v: %.2f bytes a reading, at most 3.2", step, each)
		}
	}
	fahrenheit, imported := readings(4096, 0.1, 8), readings(4096, 0.1, 9)
	for i := range fahrenheit {
		fahrenheit[i].Value = (fahrenheit[i].Value - 32) / 1.8
		imported[i].Received = 1_800_000_000_000
		imported[i].Mark = &Mark{Quality: 1, Reason: "imported: logger.csv", HasDevice: true, Device: imported[i].Measured}
	}
	for name, rows := range map[string][]Row{"°F": fahrenheit, "imported": imported} {
		each := float64(len(mustHold(t, rows))) / float64(len(rows))
		t.Logf("%s: %.2f bytes a reading", name, each)
		if each > 4 {
			t.Errorf("%s: %.2f bytes a reading, at most 4", name, each)
		}
	}
}

// Each bit of a block, and each place to cut it off: rows that are as many, or an error, and
// never a panic.
func TestEveryBitOfABlock(t *testing.T) {
	rows := readings(40, 0.1, 3)
	rows[3].Mark, rows[4].Value = &Mark{Quality: 2, Reason: "sentinel", Raw: "-127"}, math.NaN()
	b := mustHold(t, rows)
	errs := 0
	for at := range b {
		for bit := range 8 {
			forged := append([]byte{}, b...)
			forged[at] ^= 1 << bit
			if _, err := Decode(forged); errors.Is(err, ErrDamaged) {
				errs++
			} else if err != nil {
				t.Fatal(err)
			}
		}
		if _, err := Decode(b[:at]); !errors.Is(err, ErrDamaged) {
			t.Errorf("cut off at %d: %v", at, err)
		}
	}
	if _, err := Decode(append(b, 0)); !errors.Is(err, ErrDamaged) {
		t.Errorf("longer than it is: %v", err)
	}
	t.Logf("%d of %d bits give no block; the others the checksum beside it has to tell", errs, 8*len(b))
}

func FuzzDecode(f *testing.F) {
	rows := readings(40, 0.0625, 3)
	rows[3].Mark = &Mark{Quality: 2, Reason: "sentinel", Raw: "-127", HasAt: true, HasDevice: true}
	for _, seed := range [][]Row{rows, readings(1, 0.1, 1), {{Value: math.Copysign(0, -1)}, {Seq: 1, Value: math.NaN()}, {Seq: 5, Value: math.Inf(1)}}} {
		b, err := Encode(seed)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(b)
	}
	f.Add([]byte{1, 0xff, 0xff, 0x03})
	f.Add([]byte{1, 0x80, 0x80, 0x04, 0xff, 0xff, 0xff, 0xff, 0x0f, 4, 1, 2, 3, 4})
	f.Fuzz(func(t *testing.T, b []byte) {
		rows, err := Decode(b)
		switch {
		case err != nil && !errors.Is(err, ErrDamaged):
			t.Fatal(err)
		case err == nil && len(rows) == 0:
			t.Fatal("no rows and no error")
		case err == nil: // what was read can be written, and is the same
			mustHold(t, rows)
		}
	})
}

func BenchmarkDecode(b *testing.B) {
	packed, err := Encode(readings(4096, 0.1, 7))
	if err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	n := 0
	for b.Loop() {
		rows, err := Decode(packed)
		if err != nil {
			b.Fatal(err)
		}
		n += len(rows)
	}
	b.ReportMetric(float64(n)/b.Elapsed().Seconds(), "rows/s")
}

func BenchmarkEncode(b *testing.B) {
	rows := readings(4096, 0.1, 7)
	n := 0
	for b.Loop() {
		if _, err := Encode(rows); err != nil {
			b.Fatal(err)
		}
		n += len(rows)
	}
	b.ReportMetric(float64(n)/b.Elapsed().Seconds(), "rows/s")
}
