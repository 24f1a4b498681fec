package soak

import (
	"fmt"
	"math"
	"strings"
	"time"
)

// houseFile is a shop with two fridges and a smoker. An alarm of a fridge is quick there, so
// that a run has some. %s: page, page, broker, phone.
const houseFile = `[site]
name = "soak"
zone = "UTC"
units = "C"
database = "flitch.db"

[page]
listen = %q
link = "http://%s"

[broker]
mode = "embedded"
listen = %q
anonymous = true

[[channel]]
name = "phone"
kind = "http"
level = "tell"
url = %q

[[place]]
name = "alder"
kind = "fridge"

[[place.alarm]]
id = "C1"
level = "ring"
after = "4s"
clears_after = "4s"

[[place]]
name = "birch"
kind = "fridge"

[[place]]
name = "old-kettle"
kind = "smoker"
fuel = "charcoal"
`

// A sensor is one of the twelve probes of the house.
type sensor struct {
	name, place, measures string
	value                 func(at time.Duration, alarm bool) float64
}

func (s sensor) topic() string { return "soak/" + s.name }

// wave is a temperature that swings about a middle, in steps of a tenth as sensors have.
func wave(middle, swing float64, period time.Duration) func(time.Duration, bool) float64 {
	return func(at time.Duration, _ bool) float64 {
		v := middle + swing*math.Sin(2*math.Pi*at.Seconds()/period.Seconds()) + swing/5*math.Sin(at.Seconds()*1.7)
		return math.Round(10*v) / 10
	}
}

// warm is one that is too warm while there shall be an alarm.
func warm(usual func(time.Duration, bool) float64) func(time.Duration, bool) float64 {
	return func(at time.Duration, alarm bool) float64 {
		if alarm {
			return 6.5
		}
		return usual(at, false)
	}
}

func sensors() []sensor {
	out := []sensor{
		{"alder-product", "alder", "product", warm(wave(3, 0.3, 20*time.Minute))},
		{"alder-air", "alder", "air", wave(2.5, 1, 18*time.Minute)},
		{"birch-product", "birch", "product", wave(2, 0.3, 21*time.Minute)},
		{"birch-air", "birch", "air", wave(2, 1, 19*time.Minute)},
		{"kettle-grate", "old-kettle", "chamber", wave(88, 6, 7*time.Minute)},
		{"kettle-lid", "old-kettle", "chamber", wave(92, 6, 7*time.Minute)},
	}
	for i := range 6 {
		out = append(out, sensor{fmt.Sprintf("core-%d", i+1), "old-kettle", "core", wave(30+float64(i), 0.5, time.Hour)})
	}
	return out
}

func houseText(page, broker, phone, interval string) string {
	var text strings.Builder
	fmt.Fprintf(&text, houseFile, page, page, broker, phone)
	for _, s := range sensors() {
		fmt.Fprintf(&text, "\n[[probe]]\nname = %q\nplace = %q\nmeasures = %q\ntopic = %q\nvalue = \"/t\"\ntime = \"/at\"\ntime_format = \"unix-ms\"\nunit = \"C\"\ninterval = %q\n",
			s.name, s.place, s.measures, s.topic(), interval)
	}
	return text.String()
}

// payload is what a sensor sends.
func payload(value float64, at time.Time) []byte {
	return fmt.Appendf(nil, `{"t":%.1f,"at":%d}`, value, at.UnixMilli())
}
