package series

import (
	"math"
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"
)

var monday = time.Date(2031, 5, 5, 6, 0, 0, 0, time.UTC)

// rows draws readings with silences of every length between them, in order.
func rows(t *rapid.T) []Point {
	n := rapid.IntRange(1, 400).Draw(t, "readings")
	at := monday.UnixMilli() + rapid.Int64Range(0, 300_000).Draw(t, "offset")
	out := make([]Point, 0, n)
	for range n {
		v := float64(float32(rapid.Float64Range(-40, 300).Draw(t, "value")))
		out = append(out, Point{at, v})
		at += rapid.OneOf(rapid.Int64Range(1, 10_000), rapid.Int64Range(200_000, 400_000), rapid.Int64Range(1_000_000, 9_000_000)).Draw(t, "silence")
	}
	return out
}

func of(rows []Point) *Series {
	s := new(Series)
	for _, p := range rows {
		s.Add(time.UnixMilli(p.At), p.V)
	}
	return s
}

func window(rows []Point) (from, to time.Time) {
	return time.UnixMilli(rows[0].At), time.UnixMilli(rows[len(rows)-1].At)
}

func TestEveryExtremeOfAColumnStays(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		all := rows(t)
		from, to := window(all)
		column := time.Duration(rapid.IntRange(1, 90).Draw(t, "column")) * time.Minute
		got := flat(of(all).Pieces(from, to, column, 5*time.Minute))
		for number, want := range extremes(all, column) {
			if have := extremes(got, column)[number]; have != want {
				t.Fatalf("column %d: lowest and highest %v, want %v", number, have, want)
			}
		}
	})
}

// extremes are the lowest and highest value of each column, in the plainest way.
func extremes(all []Point, column time.Duration) map[int64][2]float64 {
	out := map[int64][2]float64{}
	for _, p := range all {
		number := p.At / column.Milliseconds()
		e, ok := out[number]
		if !ok {
			e = [2]float64{p.V, p.V}
		}
		out[number] = [2]float64{min(e[0], p.V), max(e[1], p.V)}
	}
	return out
}

func flat(pieces [][]Point) (out []Point) {
	for _, p := range pieces {
		out = append(out, p...)
	}
	return out
}

// No piece crosses a silence longer than the gap, and a piece ends only at one.
func TestPiecesEndAtTheGapsAndOnlyThere(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		all := rows(t)
		from, to := window(all)
		gap := time.Duration(rapid.IntRange(5, 30).Draw(t, "gap")) * time.Minute
		column := time.Duration(rapid.IntRange(1, 600).Draw(t, "column")) * time.Minute
		pieces := of(all).Pieces(from, to, column, gap)
		want := 1
		for i := 1; i < len(all); i++ {
			if all[i].At-all[i-1].At > gap.Milliseconds() {
				want++
				if crosses(pieces, all[i-1].At, all[i].At) {
					t.Fatalf("a line crosses the silence of %v", time.Duration(all[i].At-all[i-1].At)*time.Millisecond)
				}
			}
		}
		if len(pieces) != want {
			t.Fatalf("%d pieces, want %d", len(pieces), want)
		}
	})
}

func crosses(pieces [][]Point, from, to int64) bool {
	return slices.ContainsFunc(pieces, func(p []Point) bool { return p[0].At <= from && p[len(p)-1].At >= to })
}

// All points are readings, in order, and there are no more than the picture has room for.
func TestPointsAreReadingsInOrderAndFew(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		all := rows(t)
		from, to := window(all)
		column := time.Duration(rapid.IntRange(1, 600).Draw(t, "column")) * time.Minute
		pieces := of(all).Pieces(from, to, column, 5*time.Minute)
		got := flat(pieces)
		for i, p := range got {
			if !slices.Contains(all, p) {
				t.Fatalf("%v was never measured", p)
			}
			if i > 0 && p.At <= got[i-1].At {
				t.Fatalf("%v comes after %v", p, got[i-1])
			}
		}
		if got[0] != all[0] || got[len(got)-1] != all[len(all)-1] {
			t.Fatalf("from %v to %v, want %v to %v", got[0], got[len(got)-1], all[0], all[len(all)-1])
		}
		if bound := 4 * (len(extremes(all, column)) + len(pieces)); len(got) > bound {
			t.Fatalf("%d points, at most %d", len(got), bound)
		}
	})
}

// Late data and data that comes again change nothing: the order does not count.
func TestTheOrderOfArrivalDoesNotCount(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		all := rows(t)
		mixed := rapid.Permutation(append(slices.Clone(all), all[:len(all)/2]...)).Draw(t, "order")
		if a, b := of(all), of(mixed); a.joined != b.joined || !slices.Equal(a.cells, b.cells) {
			t.Fatalf("in order %v, mixed %v", a.cells, b.cells)
		}
	})
}

// A series longer than its room joins cells and still has every extreme.
func TestALongSeriesStaysSmall(t *testing.T) {
	s, back := new(Series), new(Series)
	const minutes = 60 * 24 * 60 // 60 days
	value := func(i int) float64 {
		if i == 40_001 {
			return 99
		}
		return 4 + math.Sin(float64(i)/50)
	}
	for i := range minutes {
		s.Add(monday.Add(time.Duration(i)*time.Minute), value(i))
		j := minutes - 1 - i
		back.Add(monday.Add(time.Duration(j)*time.Minute), value(j))
	}
	if s.Length() != Longest || s.Size() > minutes/4+1 {
		t.Errorf("%d cells of %v", s.Size(), s.Length())
	}
	if !slices.Equal(s.cells, back.cells) {
		t.Error("backwards it is another series")
	}
	highest := Point{}
	s.Each(monday, monday.AddDate(0, 0, 60), func(p Point) {
		if p.V > highest.V {
			highest = p
		}
	})
	if want := (Point{monday.Add(40_001 * time.Minute).UnixMilli(), 99}); highest != want {
		t.Errorf("highest %v, want %v", highest, want)
	}
}

func TestWhatIsNoNumberIsLeftOut(t *testing.T) {
	s := new(Series)
	for _, v := range []float64{math.NaN(), math.Inf(1), math.Inf(-1)} {
		s.Add(monday, v)
	}
	s.Add(time.UnixMilli(-1), 4)
	if s.Size() != 0 || len(s.Pieces(monday, monday.Add(time.Hour), time.Minute, time.Hour)) != 0 {
		t.Error("something was kept")
	}
}

func TestAWindowTakesWholeCells(t *testing.T) {
	s := of([]Point{{monday.UnixMilli(), 1}, {monday.Add(90 * time.Second).UnixMilli(), 2}, {monday.Add(5 * time.Minute).UnixMilli(), 3}})
	var got []float64
	s.Each(monday.Add(100*time.Second), monday.Add(4*time.Minute), func(p Point) { got = append(got, p.V) })
	if !slices.Equal(got, []float64{2}) {
		t.Errorf("got %v", got)
	}
}

// A copy has the same points, and does not see what is added later.
func TestACopyStandsAlone(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		all := rows(t)
		s := of(all)
		from, to := window(all)
		copied := s.Between(from, to)
		if !slices.Equal(copied.cells, s.cells) {
			t.Fatal("the copy lacks something")
		}
		half := from.Add(to.Sub(from) / 2)
		var want, got []Point
		s.Each(from, half, func(p Point) { want = append(want, p) })
		part := s.Between(from, half)
		part.Each(from, half, func(p Point) { got = append(got, p) })
		if !slices.Equal(want, got) {
			t.Fatalf("a part of it: %v, want %v", got, want)
		}
		s.Add(from, 999)
		copied.Each(from, to, func(p Point) {
			if p.V == 999 {
				t.Fatal("the copy changed")
			}
		})
	})
}
