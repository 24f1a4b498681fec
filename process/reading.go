package process

import "time"

// Quality says how far a reading may be believed.
type Quality uint8

// The three qualities of a reading. Only a good or suspect reading moves a
// clock; a bad one is kept, shown and counted, and otherwise treated as absent.
const (
	Good    Quality = iota // believed
	Suspect                // believed, with a mark: late, device clock not believed
	Bad                    // kept but never used: sentinel, out of range
)

// String returns the word used in the database, the page and the record.
func (q Quality) String() string {
	switch q {
	case Good:
		return "good"
	case Suspect:
		return "suspect"
	default:
		return "bad"
	}
}

// Placement says what a probe measures.
type Placement string

// The placements of design section 3.
const (
	Core     Placement = "core"     // inside the meat, °C
	Chamber  Placement = "chamber"  // smoker air at the grate, °C
	Product  Placement = "product"  // buffered, slow, product-like sensor, °C
	Air      Placement = "air"      // bare sensor in a fridge, °C
	WetBulb  Placement = "wet-bulb" // °C
	Humidity Placement = "humidity" // % relative humidity
	Weight   Placement = "weight"   // g
	Door     Placement = "door"     // 1 open, 0 closed
	Power    Placement = "power"    // W, or 1 present and 0 absent
	Ambient  Placement = "ambient"  // °C
)

// PH is what a hand reading of acidity is of. No probe has it.
const PH Placement = "ph"

// Placements lists every placement, in the order of the words above.
var placements = [...]Placement{Core, Chamber, Product, Air, WetBulb, Humidity, Weight, Door, Power, Ambient}

// Placements returns every known placement, in a fixed order.
func Placements() []Placement { return append([]Placement(nil), placements[:]...) }

// IsTemperature reports whether readings of p are temperatures in °C.
func (p Placement) IsTemperature() bool {
	switch p {
	case Core, Chamber, Product, Air, WetBulb, Ambient:
		return true
	}
	return false
}

// A Reading is one value of one probe.
type Reading struct {
	Probe    string    // name of the probe in the configuration
	Measured time.Time // when it holds, UTC: device time if believed, else arrival
	Received time.Time // when it reached the daemon, UTC
	Device   time.Time // time in the payload, believed or not; zero if none
	Value    float64   // °C for temperatures, else the unit of the placement
	Quality  Quality
	Reason   string // why the quality is not good; empty when it is
	Raw      string // source text, kept when the quality is not good
}

// stale reports whether the reading is too old on arrival to ring for: stored by
// the device and sent later. It still moves the clocks.
func (r Reading) stale(allowed time.Duration) bool { return r.Received.Sub(r.Measured) > allowed }

// heard is as of when the reading shows that its probe measures: arrival, or the time
// measured of one that is stale. A stored reading, or a copy that a broker kept, says
// nothing of now.
func (r Reading) heard(allowed time.Duration) time.Time {
	if r.stale(allowed) {
		return r.Measured
	}
	return r.Received
}
