package nights

import (
	"time"

	"flitch/ingest/sim"
	"flitch/process"
)

// ofAlder are the sensors on the board of the cure fridge.
var ofAlder = []string{"alder-slow", "alder-air"}

// boards that say nothing, or cannot tell the time.
func boards() []kind {
	return []kind{
		{name: "fridge board dead", lasts: 4 * time.Hour, breaks: silence(ofAlder...), mends: speak,
			rings: []string{"B2"}, within: 35*time.Minute + longGap},
		{name: "board's clock in 1970", lasts: 6 * time.Hour,
			breaks: func(y *year) { y.shop.from1970 = true },
			mends:  func(y *year) { y.shop.from1970 = false },
			rings:  []string{"B6"}, within: 10*time.Minute + longGap},
		{name: "fridge board says goodbye", lasts: 4 * time.Hour, breaks: gone(ofAlder...), mends: speak,
			rings: []string{"B2g"}, within: 2 * time.Minute},
		{name: "board asks for a person", lasts: 6 * time.Hour, breaks: asks("sensor loose"), mends: asks(""),
			rings: []string{"B4a"}, within: 2 * time.Minute},
	}
}

// numbers that come in time and are no temperature, or not the fridge's.
func numbers() []kind {
	const standing = 9 * time.Hour
	return []kind{
		// The six hours begin anew after a gap whose readings are lost: nobody knows what it
		// would have read.
		{name: "fridge sensor stands still", lasts: standing, line: true,
			breaks: func(y *year) { y.shop.standStill("alder-slow") },
			mends:  func(y *year) { delete(y.shop.says, "alder-slow") },
			rings:  []string{"B3f"}, within: 6*time.Hour + 10*time.Minute + longGap},
		{name: "fridge sensor turned to °F", lasts: 6 * time.Hour,
			breaks: unit(sim.Fahrenheit), mends: unit(sim.Celsius),
			rings: []string{"B2"}, within: 35*time.Minute + longGap, also: []also{{"B2u", 15*time.Minute + longGap}}},
		{name: "sensor code -127", lasts: standing, breaks: code(-127), mends: noCode,
			rings: []string{"B2"}, within: 35*time.Minute + longGap},
		{name: "sensor code 85", lasts: standing, breaks: code(85), mends: noCode,
			rings: []string{"B2"}, within: 35*time.Minute + longGap},
		{name: "sensor reads low, found in ice", lasts: 10 * time.Hour,
			breaks: func(y *year) {
				y.shop.probes["alder-slow"].Off = -1.3
				y.later(6*time.Hour, inIce)
			},
			mends: func(y *year) {
				y.shop.probes["alder-slow"].Off = 0
				inIce(y)
			},
			rings: []string{"B9"}, within: 6*time.Hour + 5*time.Minute},
	}
}

// vitals are told at nine: what gets low after that is told of on the next day.
func vitals() []kind {
	const nextNine = 24*time.Hour + 5*time.Minute
	return []kind{
		{name: "battery low", lasts: 26 * time.Hour,
			breaks: func(y *year) { y.shop.battery = 14 },
			mends:  func(y *year) { y.shop.battery = 100 },
			rings:  []string{"B4"}, within: nextNine},
		{name: "signal poor", lasts: 26 * time.Hour,
			breaks: func(y *year) { y.shop.signal = -93 },
			mends:  func(y *year) { y.shop.signal = signalDBm },
			rings:  []string{"B4s"}, within: nextNine},
	}
}

func asks(words string) func(*year) {
	return func(y *year) {
		y.tell(process.Command{Kind: process.CommandSensor, By: "flitch", Sensor: &process.SensorWord{Probe: ofAlder[0], Asks: words}})
	}
}

// gone lets devices say that they go, and then nothing.
func gone(names ...string) func(*year) {
	return func(y *year) {
		silence(names...)(y)
		for _, name := range names {
			y.tell(process.Command{Kind: process.CommandSensor, By: "flitch", Sensor: &process.SensorWord{Probe: name, Gone: true, Words: "goodbye"}})
		}
	}
}

func silence(names ...string) func(*year) {
	return func(y *year) {
		for _, name := range names {
			y.shop.silent[name] = true
		}
	}
}

func speak(y *year) { clear(y.shop.silent) }

func code(value float64) func(*year) {
	return func(y *year) {
		for _, name := range ofAlder {
			y.shop.says[name] = value
		}
	}
}

func noCode(y *year) {
	for _, name := range ofAlder {
		delete(y.shop.says, name)
	}
}

func unit(u sim.Unit) func(*year) {
	return func(y *year) {
		for _, name := range ofAlder {
			y.shop.probes[name].Unit = u
		}
	}
}

// inIce is the check of the slow sensor of the cure fridge in ice water.
func inIce(y *year) {
	p := y.shop.probes["alder-slow"]
	y.tell(process.Command{Kind: process.CommandChecked, Check: &process.CheckSaid{Probe: p.Placed.Probe, Method: process.CheckIce, ReadC: p.Off}})
}
