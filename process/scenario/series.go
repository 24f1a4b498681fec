package scenario

import (
	"math"
	"time"

	"flitch/process"
)

// A Shape is the way from one value to another.
type Shape string

// The shapes.
const (
	Hold     Shape = "hold" // stays
	Straight Shape = "->"   // in a straight line, there at the end
	Approach Shape = "~>"   // toward it, the slower the nearer, with a time constant
)

// A Series is what a probe says from a time on, up to another without it.
type Series struct {
	From, To time.Duration
	Probe    string
	Shape    Shape
	First    Quantity
	Last     Quantity // Hold: none
	Tau      time.Duration
	Swing    Quantity // none: zero
	Period   time.Duration
	Noise    Quantity      // standard deviation; none: zero
	Every    time.Duration // zero: the interval of the probe
}

// A Mark changes how the readings of a stretch come in.
type Mark struct {
	From, To time.Duration
	Kind     string // gap: never; late: at Arrives; doubt: with a mark
	Probe    string
	Arrives  time.Duration // late
	Why      string        // doubt
}

// A Single is one reading. A spike takes the place of the next one of the series.
type Single struct {
	At    time.Duration
	Probe string
	Value Quantity
	Spike bool
}

const (
	seriesExample = "from 02:00 to 05:00 grate 110C -> 60C, or hold 57C, or 57C ~> 12C tau 40m"
	markExample   = "from 02:00 to 02:20 gap core-1, or late core-1 arrives 02:25, or doubt core-1 \"why\""
)

// stretch reads what comes after "from".
func (p *parser) stretch() (Item, error) {
	from, err := p.moment(seriesExample)
	if err != nil {
		return nil, err
	}
	if err := p.inOrder(from); err != nil {
		return nil, err
	}
	if err := p.want("to", seriesExample); err != nil {
		return nil, err
	}
	to, err := p.until(from, seriesExample)
	if err != nil {
		return nil, err
	}
	if p.isAway() {
		return Away{from, to}, nil
	}
	switch kind := p.peek(); kind {
	case "gap", "late", "doubt":
		p.is(kind)
		return p.mark(Mark{From: from, To: to, Kind: kind})
	}
	return p.series(Series{From: from, To: to})
}

func (p *parser) moment(example string) (time.Duration, error) {
	text, err := p.next("a time", example)
	if err != nil {
		return 0, err
	}
	return p.clock().moment(text)
}

func (p *parser) until(from time.Duration, example string) (time.Duration, error) {
	text, err := p.next("a time", example)
	if err != nil {
		return 0, err
	}
	return p.clock().until(text, from)
}

func (p *parser) mark(m Mark) (Item, error) {
	probe, err := p.placed()
	if err != nil {
		return nil, err
	}
	m.Probe = probe.Probe
	switch m.Kind {
	case "late":
		if err := p.want("arrives", markExample); err != nil {
			return nil, err
		}
		text, err := p.next("a time", markExample)
		if err != nil {
			return nil, err
		}
		if m.Arrives, err = p.clock().until(text, m.From); err == nil && m.Arrives < m.To {
			err = wrong("a later time", "%s is before they were measured", text)
		}
		return m, err
	case "doubt":
		m.Why, err = p.free("why", markExample)
		if err == nil && (m.Why == "" || len(m.Why) > 200) {
			err = wrong(markExample, "a doubt needs its reason, of up to 200 characters")
		}
		return m, err
	}
	return m, nil
}

func (p *parser) series(s Series) (Item, error) {
	probe, err := p.placed()
	if err != nil {
		return nil, err
	}
	s.Probe = probe.Probe
	if err := p.shape(&s, probe.Placement); err != nil {
		return nil, err
	}
	if p.is("swing") {
		if s.Swing, err = p.width(probe.Placement); err != nil {
			return nil, err
		}
		if err := p.want("period", "swing 1.5C period 40m"); err != nil {
			return nil, err
		}
		if s.Period, err = p.span("swing 1.5C period 40m"); err != nil {
			return nil, err
		}
	}
	if p.is("noise") {
		if s.Noise, err = p.width(probe.Placement); err != nil {
			return nil, err
		}
	}
	if p.is("every") {
		s.Every, err = p.span("every 1m")
	}
	return s, err
}

func (p *parser) shape(s *Series, of process.Placement) (err error) {
	if p.is(string(Hold)) {
		s.Shape = Hold
		s.First, err = p.value(of, seriesExample)
		return err
	}
	if s.First, err = p.value(of, seriesExample); err != nil {
		return err
	}
	switch {
	case p.is(string(Straight)):
		s.Shape = Straight
	case p.is(string(Approach)):
		s.Shape = Approach
	default:
		return wrong(seriesExample, "a value that goes nowhere")
	}
	if s.Last, err = p.value(of, seriesExample); err != nil || s.Shape != Approach {
		return err
	}
	if err := p.want("tau", seriesExample); err != nil {
		return err
	}
	s.Tau, err = p.span(seriesExample)
	return err
}

// value takes a value of a placement.
func (p *parser) value(of process.Placement, example string) (Quantity, error) {
	text, err := p.next("a value", example)
	if err != nil {
		return Quantity{}, err
	}
	q, err := quantity(text, example)
	if err != nil {
		return q, err
	}
	return q, q.check(of)
}

// width takes how far a value goes to both sides.
func (p *parser) width(of process.Placement) (Quantity, error) {
	q, err := p.value(of, "noise 0.5C")
	switch {
	case err != nil:
		return q, err
	case of == process.Door:
		return q, wrong("the line without it", "a door is open or closed")
	case !(q.Number > 0):
		return q, wrong("a width above 0", "%s is no width", q)
	}
	return q, nil
}

func (p *parser) single(at time.Duration, spike bool) (Item, error) {
	probe, err := p.placed()
	if err != nil {
		return nil, err
	}
	value, err := p.value(probe.Placement, "03:05 reading core-1 85C")
	return Single{at, probe.Probe, value, spike}, err
}

// of is the value at a time since From, without noise.
func (s Series) of(t time.Duration) float64 {
	v := s.First.value()
	switch s.Shape {
	case Straight:
		v += (s.Last.value() - v) * float64(t) / float64(s.To-s.From)
	case Approach:
		v += (s.Last.value() - v) * (1 - math.Exp(-float64(t)/float64(s.Tau)))
	}
	if s.Period > 0 {
		v += s.Swing.difference() * math.Sin(2*math.Pi*float64(t)/float64(s.Period))
	}
	return v
}

func (s Series) text(c clock) string {
	text := "from " + c.text(s.From) + " to " + c.untilText(s.To, s.From) + " " + s.Probe
	if s.Shape == Hold {
		text += " hold " + s.First.String()
	} else {
		text += " " + s.First.String() + " " + string(s.Shape) + " " + s.Last.String()
	}
	if s.Tau > 0 {
		text += " tau " + spanText(s.Tau)
	}
	if s.Period > 0 {
		text += " swing " + s.Swing.String() + " period " + spanText(s.Period)
	}
	if !s.Noise.zero() {
		text += " noise " + s.Noise.String()
	}
	if s.Every > 0 {
		text += " every " + spanText(s.Every)
	}
	return text
}

func (m Mark) text(c clock) string {
	text := "from " + c.text(m.From) + " to " + c.untilText(m.To, m.From) + " " + m.Kind + " " + m.Probe
	switch m.Kind {
	case "late":
		text += " arrives " + c.untilText(m.Arrives, m.From)
	case "doubt":
		text += " " + quoteIf(m.Why)
	}
	return text
}

func (s Single) text(c clock) string {
	kind := " reading "
	if s.Spike {
		kind = " spike "
	}
	return c.text(s.At) + kind + s.Probe + " " + s.Value.String()
}
