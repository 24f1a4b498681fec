package cure

import (
	"fmt"
	"math"
	"testing"
)

// BenchmarkFinish is when a piece will be through, with its interval, half way. The
// limit is a number of ours: a millisecond, so that a page or a minute of the
// daemon can ask without thinking.
func BenchmarkFinish(b *testing.B) {
	const limitMS = 1.0
	belly := Bag(2268, 0.50, DefaultPurge*2268, 57, 0.354)
	ham := Brine(8000, 0.65, 4000, 400, 1.2)
	for _, c := range []struct {
		name       string
		cut        Cut
		thicknessM float64
	}{
		{"cure_finish_belly", Cut{Slab, belly.Alpha}, 0.038},
		{"cure_finish_ham", Cut{Cylinder, ham.Alpha}, 0.150},
	} {
		b.Run(c.name, func(b *testing.B) {
			path := Path(c.cut.Shape, c.thicknessM, false)
			half := c.cut.TauFor(DefaultFraction) / 2
			b.ReportAllocs()
			for b.Loop() {
				f := c.cut.Finish(DefaultFraction, half, path, 4)
				if !(0 < f.Earliest && f.Earliest < f.Hours && f.Hours < f.Latest) || math.IsInf(f.Latest, 0) {
					b.Fatalf("%+v", f)
				}
			}
			ms := b.Elapsed().Seconds() * 1000 / float64(b.N)
			fmt.Printf("bench %s %.4f ms %.0f %.3f\n", c.name, ms, limitMS, ms/limitMS)
		})
	}
}
