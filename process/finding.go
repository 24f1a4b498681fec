package process

import "time"

// Measure is the quantity an alarm condition looks at. Each has a fixed unit.
type Measure string

// The measures that Step reports.
const (
	MeasureProduct        Measure = "product temperature"         // °C, slow sensor of a fridge
	MeasureOccupied       Measure = "product temperature, in use" // °C, the same while a batch is inside
	MeasureEstimate       Measure = "product, by the air"         // 1 while the air says that the product is at its limit or will be; no slow sensor
	MeasureDose           Measure = "dose of cure"                // 0, DoseFails or DoseMissing, of a piece
	MeasureTurn           Measure = "time since turn"             // h
	MeasureChamberDeficit Measure = "chamber below set point"     // K, while falling and after it was once reached
	MeasureNoRise         Measure = "time without core rise"      // min since the slowest core last rose 1 K
	MeasureCoreHeld       Measure = "core target held"            // 1 when target and hold are reached, else 0
	MeasureSilenceHot     Measure = "silence in a cook"           // min beyond what the probe is allowed
	MeasureSilenceCold    Measure = "silence of a fridge"         // min since the last believed reading
	MeasureChillLate      Measure = "chill forecast late"         // min the forecast is beyond the leg's limit
	MeasureChillOver      Measure = "chill leg over its limit"    // min
	MeasureCureLeft       Measure = "cure time left"              // h by the user's rule; negative when past
	MeasureFlare          Measure = "chamber in flames"           // K over the heat of a smoker; FlareSure when it gets hotter as only a fire does
	MeasureChamberOver    Measure = "chamber above set point"     // K
	MeasureNearAmbient    Measure = "chamber above the room"      // K, once the set point was reached
	MeasureLid            Measure = "lid open in a cook"          // 1
	MeasureComeUp         Measure = "come-up time"                // h; from 5 on only if it will be too long
	MeasureCoreLeft       Measure = "core below target"           // K
	MeasureCoreOver       Measure = "core above target"           // K, of the slowest
	MeasureCoreFall       Measure = "core fallen"                 // K in ten minutes, without the chamber
	MeasureProbeOut       Measure = "probe out of the meat"       // 1
	MeasureStuck          Measure = "core reads the same"         // min, of a stuck probe
	MeasureCoreSpread     Measure = "cores differ"                // K
	MeasureTooDry         Measure = "air drier than the plan"     // points of humidity, or K of the wet bulb
	MeasureColdSmoke      Measure = "chamber in cold smoke"       // °C
	MeasureNoChill        Measure = "cooked and not chilling"     // min
	MeasureMissing        Measure = "pieces missing"              // fewer counted since the heat than went in
	MeasureKeepLeft       Measure = "keeping time left"           // d
	MeasureRoomHumidity   Measure = "humidity outside its band"   // points
	MeasureDoor           Measure = "door open"                   // min; from 10 on only with a batch in warming air
	MeasureCompressor     Measure = "compressor at a stop"        // h that the air of a cold place has only risen
	MeasureNoRest         Measure = "compressor without a rest"   // h, of one that used to rest
	MeasureFreezer        Measure = "freezer temperature"         // °C
	MeasureFlat           Measure = "fridge reads the same"       // h, to the last digit
	MeasureCheck          Measure = "days past the check"         // d, of a probe; CheckFailed when it failed one
	MeasureBattery        Measure = "battery over its limit"      // % or dBm, or hundredths of a volt, of a probe
	MeasureSignal         Measure = "signal over its limit"       // the same
	MeasureGoneHot        Measure = "probe gone in a cook"        // min since its device said so; -1 when it is back
	MeasureGoneCold       Measure = "fridge sensor gone"          // the same
	MeasureAsks           Measure = "sensor asks for a person"    // 1, of a probe
	MeasureMains          Measure = "mains off"                   // min
	MeasureMainsLate      Measure = "mains were off"              // min, as late readings told
	MeasureClock          Measure = "clock not believed"          // 1
	MeasureUnit           Measure = "unit of a sensor"            // 1 while it is asked whether it was set to another one
	MeasurePair           Measure = "two probes apart"            // K that they have drifted; 0 while they have not
	MeasurePathAway       Measure = "path away"                   // min a broker or a way to the phone has been out of reach
	MeasureBackup         Measure = "backup failing"              // min copies of the database have failed
	MeasureUnsigned       Measure = "record not signed"           // min the log could not be sealed and signed
	MeasureFleet          Measure = "fleet not told"              // min nothing could be sent to the database of many sites
	MeasureCertificate    Measure = "certificate wants renewing"  // d since the end of the certificate of the page came near
	MeasureMachineClock   Measure = "clock of the machine"        // 1 while it is in doubt
	MeasureTwins          Measure = "devices of one name"         // min since two devices send each other away
	MeasureDiskFault      Measure = "disk fault"                  // 1 while the disk does not take what is written
	MeasureDiskSlow       Measure = "disk slow"                   // 1 while it takes seconds for it
	MeasureDamage         Measure = "database damaged"            // 1 once a part of the database could not be read
)

// State says whether a finding carries a value.
type State uint8

// The states of a finding.
const (
	Known   State = iota // Value holds
	Unknown              // data missing or not believed: raises nothing, clears nothing
	Over                 // the question no longer applies: stage ended, batch closed
	Falling              // Value holds and can only fall, as what brought it about is over
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
