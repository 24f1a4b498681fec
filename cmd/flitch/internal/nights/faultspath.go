package nights

import (
	"time"

	"flitch/process"
	"flitch/process/engine"
)

// paths in and out of flitch itself. What is measured while the broker is away or the
// disk is full waits with the sensors.
func paths() []kind {
	const answers = 7 * time.Minute // five, and two whole minutes
	return []kind{
		{name: "broker away", lasts: 3 * time.Hour, line: true, breaks: lost(engine.FaultBroker, probeNames), mends: found(engine.FaultBroker),
			rings: []string{"B7"}, within: answers},
		{name: "way to the phone dead", lasts: 3 * time.Hour, breaks: lost(engine.FaultPhone+"phones", nil), mends: found(engine.FaultPhone + "phones"),
			rings: []string{"B7"}, within: answers},
		{name: "disk full", lasts: 90 * time.Minute, line: true, breaks: lost(engine.FaultDisk, probeNames), mends: found(engine.FaultDisk),
			rings: []string{"B10"}, within: 2 * time.Minute},
		{name: "backup fails", lasts: 3 * time.Hour, breaks: lost(engine.FaultBackup, nil), mends: found(engine.FaultBackup),
			rings: []string{"B7b"}, within: 62 * time.Minute},
		{name: "record cannot be signed", lasts: 3 * time.Hour, breaks: lost(engine.FaultRecord, nil), mends: found(engine.FaultRecord),
			rings: []string{"B7k"}, within: 62 * time.Minute},
		{name: "fleet out of reach", lasts: 3 * time.Hour, breaks: lost(engine.FaultFleet, nil), mends: found(engine.FaultFleet),
			rings: []string{"B7f"}, within: 62 * time.Minute},
		{name: "two devices of one name", lasts: 3 * time.Hour, breaks: lost(engine.FaultTwins+"fridge-board", nil), mends: found(engine.FaultTwins + "fridge-board"),
			rings: []string{"B7d"}, within: 7 * time.Minute},
		{name: "certificate of the page ends", lasts: 26 * time.Hour, // told at nine in the morning
			breaks: func(y *year) { y.endOfPage(y.Now.AddDate(0, 0, 12)) },
			mends:  func(y *year) { y.endOfPage(time.Time{}) },
			rings:  []string{"B7c"}, within: 24*time.Hour + 5*time.Minute},
	}
}

func lost(part string, waiting []string) func(*year) {
	return func(y *year) {
		y.shop.hold(waiting)
		y.tell(process.Command{Kind: process.CommandFault, By: "flitch", Text: part, Value: 1})
	}
}

func found(part string) func(*year) {
	return func(y *year) {
		y.tell(process.Command{Kind: process.CommandFault, By: "flitch", Text: part})
		y.shop.back(y.Now)
	}
}

// endOfPage tells when the page's certificate ends, if that is near.
func (y *year) endOfPage(ends time.Time) {
	c := process.Command{Kind: process.CommandFault, By: "flitch", Text: engine.FaultEnds, Until: ends}
	if !ends.IsZero() {
		c.Value = 1
	}
	y.tell(c)
}
