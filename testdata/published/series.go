package published

import (
	"strconv"
	"strings"
	"testing"
)

// A Point is one sample of a series.
type Point struct{ At, Value float64 }

// Series returns a cell of "time:value" pairs joined by "|".
func (r Row) Series(t testing.TB, column string) []Point {
	t.Helper()
	var out []Point
	for pair := range strings.SplitSeq(r.Text(t, column), "|") {
		at, value, ok := strings.Cut(pair, ":")
		a, err1 := strconv.ParseFloat(at, 64)
		v, err2 := strconv.ParseFloat(value, 64)
		if !ok || err1 != nil || err2 != nil {
			t.Fatalf("%s: column %s: %q is not time:value", r.Where(), column, pair)
		}
		out = append(out, Point{a, v})
	}
	return out
}
