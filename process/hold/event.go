package hold

// A Kind of event in a fridge.
type Kind string

// The events of a fridge.
const (
	DoorOpen Kind = "door-open" // counted only
	DoorAjar Kind = "door-ajar"
	Defrost  Kind = "defrost" // counted; its period is learned
	TooWarm  Kind = "too-warm"
	Failure  Kind = "failure"
)

// An Event is something that happened in a fridge. Times are minutes, as in Add:
// From and To are when it happened, Detected and Cleared when that could be said.
type Event struct {
	Kind           Kind
	From, Detected float64
	To, Cleared    float64 // valid when not Open
	Open           bool
	BaseC, PeakC   float64 // air before it and at its warmest
}

// DefaultLimitC is the limit of the product, °C: 41 °F. The strict zone is 4.44 °C.
const DefaultLimitC = 5.0

// A FridgeWatch follows the air of one fridge and the product in it, and tells a
// door, a door ajar, a defrost, a setting too warm and a failure apart. Alarms are
// the product's, not the air's.
//
// The zero value is ready. It holds no pointers: it can be copied, and stored as
// JSON between any two samples. All thresholds are choices of this project, set
// before they were tried; none comes from a source.
type FridgeWatch struct {
	LimitC float64 // °C of the product; 0 means DefaultLimitC
	TauMin float64 // minutes; 0 means DefaultTauMin

	Product Estimate
	Airs    RecentAir
	Began   bool

	Rise             Rise  // the fast rise of the air under way
	Ajar, Warm, Fail Event // the newest of each kind
	Doors, Defrosts  int   // how many so far
	Starts           [4]float64
	NStarts          int       // of the last defrosts
	CalmMin          float64   // minute since which no rise was under way
	Over, Hot        Condition // product over the limit, air hot
	Quiet            Condition // none of the reasons for an alarm
	Rests            Rests
	Alarm            Alarm
	WarnedMin        float64 // minute of the last warning of a door ajar
	Warned           bool    // that the door of the rise under way may be ajar
	changed          [4]Event
	nChanged         int
}

// Add takes the next sample of the air, °C, at a minute from any start: medians of
// a minute, or readings that come slower. It returns the events detected (Open, or
// over already) or cleared by it; the slice is overwritten by the next call. A time
// not after the last one, or no number, is left out: a gap of the air.
func (w *FridgeWatch) Add(minute, airC float64) []Event {
	w.nChanged = 0
	if !finite(minute, airC) || w.Began && minute <= w.Airs.last().Min {
		return nil
	}
	if !w.Began {
		w.BeginAt(minute, airC, airC)
		return nil
	}
	w.Product, _ = w.Product.Next(airC, minute-w.Airs.last().Min, w.tau())
	w.Airs.push(AirAt{minute, airC})
	w.rise(minute, airC)
	w.failure(minute, airC)
	w.tooWarm(minute)
	w.rest(minute)
	w.alarm(minute, airC)
	return w.changed[:w.nChanged]
}

// BeginAt starts with a product of known temperature, °C. Without it the first air
// is taken for the product.
func (w *FridgeWatch) BeginAt(minute, productC, airC float64) {
	w.Product, w.Began, w.CalmMin = Begin(productC, airC), true, minute-waitMin
	w.Airs.push(AirAt{minute, airC})
}

// MinutesToLimit is how long until the product reaches its limit if the air stays
// as its half hour's median is. ok is false when it does not in this air.
func (w *FridgeWatch) MinutesToLimit() (minutes float64, ok bool) {
	if !w.Began {
		return 0, false
	}
	return w.minutesIn(w.Airs.median(w.Airs.last().Min - forecastMin))
}

// minutesIn is the same in air of a temperature, for the warm end of the estimate.
func (w *FridgeWatch) minutesIn(airC float64) (minutes float64, ok bool) {
	e := w.Product
	e.ProductC, e.AirC = e.HighC, airC
	return e.MinutesTo(w.Limit(), w.tau())
}

// Limit is the limit of the product, °C.
func (w *FridgeWatch) Limit() float64 {
	if w.LimitC == 0 {
		return DefaultLimitC
	}
	return w.LimitC
}

func (w *FridgeWatch) tau() float64 {
	if w.TauMin == 0 {
		return DefaultTauMin
	}
	return w.TauMin
}

func (w *FridgeWatch) change(e Event) {
	if w.nChanged < len(w.changed) {
		w.changed[w.nChanged] = e
		w.nChanged++
	}
}

func (w *FridgeWatch) open(e *Event, as Event) {
	*e = as
	e.Open = true
	w.change(*e)
}

func (w *FridgeWatch) clear(e *Event, to, at float64) {
	e.To, e.Cleared, e.Open = to, at, false
	w.change(*e)
}

// A Condition holds from a minute on.
type Condition struct {
	From float64
	On   bool
}

// holds notes whether it holds now and returns for how many minutes it has, -1 when
// it does not.
func (c *Condition) holds(now float64, on bool) float64 {
	switch {
	case !on:
		*c = Condition{}
		return -1
	case !c.On:
		*c = Condition{now, true}
	}
	return now - c.From
}
