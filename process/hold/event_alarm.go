package hold

// The alarm: the product is over its limit for overMin or will be there within
// soonMin, or the air is over hotC for hotMin.
const (
	overMin     = 30.0
	soonMin     = 60.0
	hotC        = 15.0 // °C
	hotMin      = 15.0
	forecastMin = 30.0 // the air of a forecast is the median of these minutes
	waitMin     = 30.0 // after a rise, before a forecast counts: the air falls yet
	quietMin    = 30.0 // without a reason before an alarm ends
)

// An Alarm is whether a person must come, and why.
type Alarm struct {
	On      bool
	From    float64 // minute it was raised
	Because string  // product over the limit, product soon over the limit, hot air, or the Kind of an event
}

// Reasons for an alarm that are no event.
const (
	ProductOver = "product over its limit"
	ProductSoon = "product soon over its limit"
	HotAir      = "hot air"
)

// alarm raises and ends the alarm.
func (w *FridgeWatch) alarm(now, airC float64) {
	because := w.reason(now, airC)
	quiet := w.Quiet.holds(now, because == "")
	switch {
	case because != "" && !w.Alarm.On:
		w.Alarm = Alarm{On: true, From: now, Because: because}
	case quiet >= quietMin:
		w.Alarm = Alarm{}
	}
}

// reason is why there should be an alarm now, or "".
func (w *FridgeWatch) reason(now, airC float64) string {
	minutes, reaches := w.MinutesToLimit()
	over := w.Over.holds(now, w.Product.HighC > w.Limit()) >= overMin
	hot := w.Hot.holds(now, airC > hotC) >= hotMin
	switch {
	case over:
		return ProductOver
	case hot:
		return HotAir
	case w.Fail.Open && reaches:
		return string(Failure)
	case w.Ajar.Open && reaches:
		return string(DoorAjar)
	case w.Warm.Open && reaches:
		return string(TooWarm)
	case reaches && minutes <= soonMin && w.calm(now):
		return ProductSoon
	}
	return ""
}

// calm reports that the air of a forecast is not that of a door or a defrost.
func (w *FridgeWatch) calm(now float64) bool {
	return !w.Rise.On && now-w.CalmMin >= waitMin
}
