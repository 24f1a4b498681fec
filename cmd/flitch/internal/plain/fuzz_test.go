package plain

import (
	"math"
	"strconv"
	"testing"
)

// A number that is taken is finite, and the same when it is written and read again.
func FuzzNumber(f *testing.F) {
	for _, s := range []string{"61.5", "-0.5", "5e-11", "1e999", "0x10", "7_0", "6,5", "NaN"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		v, ok := Number(text)
		if !ok {
			return
		}
		if math.IsNaN(v) || math.IsInf(v, 0) {
			t.Errorf("%q is %v", text, v)
		}
		if again, ok := Number(strconv.FormatFloat(v, 'g', -1, 64)); !ok || again != v {
			t.Errorf("%q is %v and then %v", text, v, again)
		}
	})
}
