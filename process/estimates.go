package process

import (
	"fmt"
	"math"

	"flitch/process/growth"
	"flitch/process/lethality"
)

// An Estimate is what a published model says of a batch. It explains and warns; the
// verdict is the rule's.
type Estimate struct {
	Name       string       `json:"name"`
	Subject    string       `json:"subject"` // "core of piece A", "fridge alder"
	Value      float64      `json:"value"`
	Low        float64      `json:"low"` // and High: an interval, or the bounds that Doubts name
	High       float64      `json:"high"`
	Unit       string       `json:"unit"`
	Level      growth.Level `json:"level,omitempty"` // of growth: green, note, amber, red
	Model      string       `json:"model"`
	Source     string       `json:"source"`
	Provenance string       `json:"provenance"`
	Doubts     []string     `json:"doubts"`
}

func (e *Estimate) doubt(format string, args ...any) {
	e.Doubts = append(e.Doubts, fmt.Sprintf(format, args...))
}

// Estimates returns what the models say, as of what was counted.
func (b *Batch) Estimates() []Estimate {
	var out []Estimate
	if worst := b.worstLethal(); worst != nil && worst.Lethal.Highest > 0 {
		out = append(out, killed("Salmonella killed", lethality.Salmonella(), worst, worst.Kills.Salmonella),
			killed("Listeria killed", lethality.Listeria(), worst, worst.Kills.Listeria))
		out = append(out, b.cameUp(), b.cameDown())
	}
	for _, t := range b.Tracks {
		if t.Hold.Hours > 0 {
			out = append(out, b.heldCold(t))
		}
	}
	for _, p := range b.Pieces {
		if e, ok := b.activity(p); ok {
			out = append(out, e)
		}
	}
	for _, p := range b.CureProgress() {
		out = append(out, p.estimate())
	}
	for i := range out {
		e := &out[i]
		e.Value, e.Low, e.High = toMillionths(e.Value), toMillionths(e.Low), toMillionths(e.High)
	}
	return out
}

// toMillionths takes off the digits that machines do not share: one fuses a product with a
// sum, another rounds in between, and a record has the same bytes on both. No model is
// right to a millionth of its unit.
func toMillionths(x float64) float64 {
	const millionth = 1e6
	if y := math.Round(x*millionth) / millionth; !math.IsInf(y, 0) {
		return y + 0 // no -0
	}
	return x
}

// killed is the log reduction of the coldest core.
func killed(name string, target lethality.Target, t *Track, sum lethality.Sum) Estimate {
	e := Estimate{Name: name, Subject: "core of piece " + t.Probe.Piece, Value: target.LogReduction(sum.FMin),
		Low: target.LogReduction(sum.LowerMin), High: target.LogReduction(sum.FMin), Unit: "log10", Model: target.Name, Source: target.Source, Provenance: "computed"}
	e.doubt("low: by the colder end of each segment")
	if sum.Weak() && sum.FMin > 0 {
		e.doubt("weak support: more than half of it was earned below %d °C", lethality.WeakC)
	}
	if sum.GapMin > 0 {
		e.doubt("no data for %s while hot: nothing earned", hoursText(sum.GapMin/60))
	}
	return e
}

// cameUp is the growth of S. aureus in the core that gave it the most.
func (b *Batch) cameUp() Estimate {
	t := b.mostGrown(func(t *Track) growth.Sum { return t.Grown.Aureus })
	return grown("S. aureus grown while coming up", b.models().aureus, "core of piece "+t.Probe.Piece, t.Grown.Aureus)
}

// growthStopsC is where the models of C. perfringens stop growing, at the latest, °C.
const growthStopsC = 9.7

// cameDown is the growth of C. perfringens in the core that gave it the most.
func (b *Batch) cameDown() Estimate {
	t := b.mostGrown(func(t *Track) growth.Sum { return t.Grown.Perfringens })
	e := grown("C. perfringens grown while coming down", b.models().perfringens, "core of piece "+t.Probe.Piece, t.Grown.Perfringens)
	if unknown := b.Plan.Growth.unknown(); unknown != "" {
		e.doubt("not given in the plan, and taken for none: %s; say it in [growth] of your own plan", unknown)
	}
	if b.Now.Sub(t.Last.At) > interpolable && t.Last.Value > growthStopsC {
		e.doubt("not heard since it read %.1f °C: what grew since is not in it", t.Last.Value)
	}
	return e
}

func (b *Batch) heldCold(t *Track) Estimate {
	e := grown("Listeria grown in the cold", b.models().listeria, "fridge "+t.Probe.Place+", by "+t.Probe.Probe, t.Hold.Listeria)
	e.doubt("for product that is ready to eat, over %s; acid, salt and residual nitrite that are not given are taken for none", hoursText(t.Hold.Hours))
	return e
}

func (b *Batch) mostGrown(sum func(*Track) growth.Sum) *Track {
	var most *Track
	b.eachTrack(Core, func(t *Track) {
		if most == nil || sum(t).M > sum(most).M {
			most = t
		}
	})
	return most
}

// crowdedLog is about as many bacteria as a gram of meat carries, log10 (from memory).
const crowdedLog = 9

// grown is decimal growth by the model's deciding lag; low and high are those of the
// other lag it names, and of its spread between trials.
func grown(name string, m *growth.Model, subject string, sum growth.Sum) Estimate {
	e := Estimate{Name: name, Subject: subject, Value: sum.DeltaLog(m), Unit: "log10", Model: m.Code + ": " + m.Organism + " in " + m.Food,
		Source: m.Source, Provenance: m.Provenance}
	e.Low, e.High, e.Level = e.Value, e.Value, m.Bands.Level(e.Value)
	if m.Beside.Name != "" {
		beside := growth.DeltaLog(sum.M, m.Beside.H0, growth.Unlimited())
		e.Low, e.High = min(e.Low, beside), max(e.High, beside)
		e.doubt("%s by lag %q: %.1f", name, m.Beside.Name, beside)
	}
	if e.Value > 0 {
		e.Low, e.High = max(0, e.Low-m.SpreadLog), e.High+m.SpreadLog
	}
	if e.High > crowdedLog {
		e.doubt("the model knows no end of growth, and no meat carries more than about %d log10: it says only too warm for far too long", crowdedLog)
	}
	if m.Note != "" {
		e.doubt("%s", m.Note)
	}
	if sum.GapM > 0 {
		e.doubt("what was not seen is counted at its warmest: %.0f %% of it", math.Min(100, 100*sum.GapM/sum.M))
	}
	return e
}

// estimate is the progress of a cure in the form of the others.
func (p CureProgress) estimate() Estimate {
	e := Estimate{Name: "cure by diffusion, centre", Subject: "piece " + p.Piece, Value: p.Centre, Low: p.Low, High: p.High, Unit: "part of equilibrium",
		Model: "Fick diffusion of salt, " + string(p.Reach), Source: "Crank, The Mathematics of Diffusion, 1975; diffusivity from reviews, within a factor of 1.67 each way", Provenance: "computed"}
	if p.Parted {
		e.doubt("thicker than 2.24 in: days per inch are too few by diffusion")
	}
	if p.Never {
		e.doubt("frozen: it does not go on")
	}
	if p.NitriteLeft < 1 {
		e.doubt("about %.0f %% of the ingoing nitrite is left, by a law from memory within a factor of 2; protection is judged on the ingoing dose", 100*p.NitriteLeft)
	}
	if p.SaltPct > 0 {
		e.doubt("centre salt about %.1f %%, ingoing nitrite there about %.0f ppm, of the dose in the plan", p.SaltPct, p.NitritePPM)
	}
	return e
}
