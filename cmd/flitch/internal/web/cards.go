package web

import (
	"math"
	"strconv"
	"time"

	"flitch/process"
	"flitch/process/record"
)

// Cards are what is known of the matter of an alarm, beside the alarm. Nil is not asked.
type Cards struct {
	Batch   string   // that stall and off are about
	Batches []string // open ones in the place that power is about
	Stall   *process.StallCard
	Off     *process.OffCard
	Power   *process.PowerCard
}

// quietFor is how long the short silence lasts, from the tap on (job of the trade: silence
// 15 min).
const quietFor = 15 * time.Minute

// quiet hides one alarm for a quarter of an hour, with an owner and a reason.
func (s *server) quiet(e entry, c *process.Command) error {
	n, err := strconv.ParseInt(e.Alarm, 10, 64)
	if err != nil || n <= 0 {
		return complaint(must("err.alarm", e.Alarm))
	}
	if e.Text == "" {
		return complaint(must("err.why"))
	}
	c.Alarm, c.Text, c.Until = n, e.Text, c.Typed.Add(quietFor)
	s.identify(c, process.CommandShelve, "-quiet-"+e.Alarm)
	return nil
}

// decision gives the disposition of an end of the card of a lost heat; empty: it is none.
func decision(value string) process.Disposition {
	switch value {
	case "continue":
		return process.ContinueAndFinish
	case "hold":
		return process.HoldForAdvice
	case "discard":
		return process.Discard
	}
	return ""
}

// decide takes what is done with a batch whose heat was lost, and why.
func (s *server) decide(e entry, c *process.Command) error {
	what := decision(e.Decision)
	switch {
	case what == "":
		return complaint(must("err.decision", e.Decision))
	case e.Text == "":
		return slip{"why", must("err.why")}
	}
	c.Disposition, c.Text = what, must("off.basis", e.Alarm, e.Text)
	// Another of the three from a page that was gone back to is another decision.
	s.identify(c, process.CommandDisposition, "-decide-"+e.Alarm+"-"+e.Decision)
	return nil
}

// A slip is a complaint about one field of a form, by the field's name.
type slip struct{ field, text string }

func (w slip) Error() string { return w.text }

// moment writes when something was, as far as it was seen.
func (s *server) moment(m process.Moment) string {
	switch {
	case m.Latest.IsZero():
		return must("card.not.measured")
	case m.Earliest.IsZero():
		return "≤ " + s.short(m.Latest)
	case m.Seen:
		return s.short(m.Latest)
	}
	return s.short(m.Earliest) + " – " + s.short(m.Latest)
}

// readingWords writes a value and its time.
func (s *server) readingWords(v *process.Sample) string {
	if v == nil {
		return must("card.not.measured")
	}
	return must("card.reading", s.Site.Temp(v.Value), s.short(v.At))
}

// apart says by how much the chamber probe is over or under the hand.
func (s *server) apart(k float64) string {
	key := must("card.more", s.difference(k))
	if k < 0 {
		key = must("card.less", s.difference(-k))
	}
	return must("card.hand.apart", key)
}

// left says how much of the come-up clock is left.
func left(h float64) string {
	if h < 0 {
		return must("card.comeup.passed", record.Amount(-h, "h"))
	}
	return must("card.comeup.left", record.Amount(h, "h"))
}

// rule writes a rule of the stall card with its numbers.
func (s *server) rule(r process.StallRule) string {
	k := func(f float64) string { return s.difference(f / 1.8) }
	switch r {
	case process.StallNoHeat:
		return must("stall.no.heat", s.difference(process.StallGapK), k(20), k(10), k(15))
	case process.StallEvaporation:
		return must("stall.evaporation", k(2), s.Site.Temp(process.StallFromC), s.Site.Temp(process.StallToC))
	case process.StallChamber:
		return must("stall.chamber", s.difference(process.StallApartK))
	case process.StallUnknown:
		return must("stall.unknown")
	}
	return must("stall.other")
}

// above writes how long something was beyond a temperature, and how long nobody knows.
func above(a process.Above) string {
	text := minutes(a.Minutes)
	if a.Blind > 0 {
		text += ", " + must("power.blind", minutes(a.Blind))
	}
	return text
}

// minutes writes a sum of minutes, from two hours on in hours.
func minutes(m float64) string {
	if m < 120 {
		return record.Amount(math.Round(m), "min")
	}
	return record.Amount(m/60, "h")
}
