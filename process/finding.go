package process

import "time"

// Measure is the quantity an alarm condition looks at. Each has a fixed unit.
type Measure string

// The measures that Step reports.
const (
	MeasureProduct        Measure = "product temperature"         // °C, slow sensor of a fridge
	MeasureOccupied       Measure = "product temperature, in use" // °C, the same while a batch is inside
	MeasureEstimate       Measure = "product, by the air"         // 1 while the air says that the product is at its limit or will be; no slow sensor
	MeasureTurn           Measure = "time since turn"             // h
	MeasureChamberDeficit Measure = "chamber below set point"     // K, while falling and after it was once reached
	MeasureNoRise         Measure = "time without core rise"      // min since the slowest core last rose 1 K
	MeasureCoreHeld       Measure = "core target held"            // 1 when target and hold are reached, else 0
	MeasureSilenceHot     Measure = "silence in a cook"           // min beyond what the probe is allowed
	MeasureSilenceCold    Measure = "silence of a fridge"         // min since the last believed reading
	MeasureChillLate      Measure = "chill forecast late"         // min the forecast is beyond the leg's limit
	MeasureChillOver      Measure = "chill leg over its limit"    // min
	MeasurePathAway       Measure = "path away"                   // min a broker or a way to the phone has been out of reach
	MeasureDiskFault      Measure = "disk fault"                  // 1 while the disk does not take what is written
)

// State says whether a finding carries a value.
type State uint8

// The states of a finding.
const (
	Known   State = iota // Value holds
	Unknown              // data missing or not believed: raises nothing, clears nothing
	Over                 // the question no longer applies: stage ended, batch closed
)

// A Finding is one thing Step saw, for the alarm machine to judge. It carries no
// limit and no opinion.
type Finding struct {
	Measure Measure
	Subject string // "fridge alder", "batch OL-31-04", "probe core-1 of batch OL-31-04"
	At      time.Time
	State   State
	Value   float64
}
