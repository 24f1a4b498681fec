package nights

import (
	"math"
	"time"

	"flitch/process"
)

// planDay writes down what will happen on a day: a cook on Wednesday and Saturday,
// the cure of the next batch from the evening on, turns, doors, the wifi, the weather,
// and perhaps a fault.
func (y *year) planDay(n int, midnight time.Time) {
	at := func(d time.Duration, do func(*year)) { y.do(midnight.Add(d), do) }
	cooking := midnight.Weekday() == time.Wednesday || midnight.Weekday() == time.Saturday
	y.weather(n)
	y.doors(at)
	at(9*time.Hour, tellVitals)
	y.work(n, midnight.Weekday(), at)
	switch {
	case n == 0:
		at(time.Minute, begin)
	case cooking:
		y.cook(at)
	}
	at(18*time.Hour+y.upTo(90*time.Minute), turn)
	if y.faultToday(n) && y.breakDown(at, midnight.Weekday(), cooking).line {
		return
	}
	y.wifi(at)
}

func (y *year) upTo(d time.Duration) time.Duration {
	return time.Duration(y.shop.random.Int64N(int64(d)))
}

// weather makes the room warmer in summer, and on some days hot.
func (y *year) weather(n int) {
	y.shop.larder.MeanC = 17 + 6*float64(n%365)/182
	if n%365 > 182 {
		y.shop.larder.MeanC = 17 + 6*float64(365-n%365)/182
	}
	if y.shop.random.IntN(12) == 0 {
		y.shop.larder.MeanC += 6
	}
}

// doors are opened a few times a day, for up to three quarters of a minute.
func (y *year) doors(at func(time.Duration, func(*year))) {
	for range 3 + y.shop.random.IntN(5) {
		open := 7*time.Hour + y.upTo(14*time.Hour)
		shut := open + 10*time.Second + y.upTo(35*time.Second)
		at(open, func(y *year) {
			if y.shop.door == 0 {
				y.shop.alder.Door(0.25)
			}
		})
		at(shut, func(y *year) {
			if y.shop.door == 0 && !y.ajar() {
				y.shop.alder.Door(0)
			}
		})
	}
}

// ajar reports a fault of the door that has no switch: shutting it is no use.
func (y *year) ajar() bool {
	for _, f := range y.faults {
		if f.Kind == ajarUnseen && !y.Now.Before(f.At) && y.Now.Before(f.Mended) {
			return true
		}
	}
	return false
}

// Gaps of the wifi.
const (
	shortGap = 5 * time.Minute
	longGap  = 23 * time.Minute
)

// wifi goes away for a while on every third day; what was measured meanwhile comes
// late.
func (y *year) wifi(at func(time.Duration, func(*year))) {
	if y.shop.random.IntN(3) > 0 {
		return
	}
	gone := y.upTo(20 * time.Hour)
	lost := y.shop.random.IntN(2) == 0
	at(gone, func(y *year) { y.shop.hold(probeNames[:5]) }) // of the fridges
	at(gone+shortGap+y.upTo(longGap-shortGap), func(y *year) {
		if lost {
			y.shop.waiting = nil
		}
		y.shop.back(y.Now)
	})
}

// tellVitals is what a board tells of itself once a day. A battery lasts for years.
func tellVitals(y *year) {
	y.shop.battery -= 0.05
	for _, v := range []process.Vital{
		{Kind: process.VitalBattery, Value: math.Round(y.shop.battery), Low: 20, Unit: "%"},
		{Kind: process.VitalSignal, Value: math.Round(y.shop.signal + 2*y.shop.random.NormFloat64()), Low: -85, Unit: "dBm"},
	} {
		v.Probe = ofAlder[0]
		y.tell(process.Command{Kind: process.CommandVital, By: "flitch", Vital: &v})
	}
}
