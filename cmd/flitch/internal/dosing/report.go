package dosing

import (
	"fmt"
	"strconv"

	"flitch/cmd/flitch/internal/quantity"
	"flitch/process/cure"
)

// A Report is what to weigh, and what the checks came to.
type Report struct {
	Method   string       `json:"method"`
	Basis    string       `json:"basis"`
	Mix      Mix          `json:"curing_salt"`
	Rule     string       `json:"rule"`
	CapPPM   *float64     `json:"cap_ppm"`
	Source   string       `json:"source"`
	Lots     []LotReport  `json:"lots"`
	Pump     []PumpReport `json:"pump,omitempty"`
	Marks    []string     `json:"marks"`
	Cautions []string     `json:"cautions"`
}

// Mix is the curing salt in per cent.
type Mix struct {
	Nitrite  float64 `json:"nitrite_pct"`
	Nitrate  float64 `json:"nitrate_pct"`
	Salt     float64 `json:"salt_pct"`
	Sugar    float64 `json:"sugar_pct"`
	SaltRest bool    `json:"salt_is_the_rest"`
}

// A LotReport is one slab, or one tub or pickle for all of them. Asked is nil when
// no ppm were asked, Weighed when nothing was weighed.
type LotReport struct {
	Name    string        `json:"name"`
	GreenG  float64       `json:"green_g"`
	SkinOn  bool          `json:"skin_on,omitempty"`
	Asked   *cure.Portion `json:"asked"`
	Weighed *cure.Portion `json:"weighed"`
	Checks  []cure.Check  `json:"checks"`
	Least   []cure.Check  `json:"least"` // minimum doses, each for its own use
}

// A PumpReport is the pickle that goes into a slab.
type PumpReport struct {
	Name    string  `json:"name"`
	PickleG float64 `json:"pickle_g"`
}

// Report works the order out.
func (o Order) Report() (Report, error) {
	recipe, err := o.recipe()
	if err != nil {
		return Report{}, err
	}
	limit, err := o.limit()
	if err != nil {
		return Report{}, err
	}
	if err := o.refuse(limit); err != nil {
		return Report{}, err
	}
	r := Report{
		Method: o.Method, Basis: o.basis(), Rule: limit.Rule, Source: limit.Source, Cautions: Cautions(),
		Mix: Mix{100 * recipe.Mix.Nitrite, 100 * recipe.Mix.Nitrate, 100 * recipe.Mix.Salt, 100 * recipe.Mix.Sugar, !o.SaltKnown},
		Marks: []string{"from memory: the water of the meat (belly 50 %, loin 74 %, ham 65 %) behind the water-phase salt",
			"common practice, no source: bag and rub are taken as used up whole"},
	}
	if limit.CapPPM > 0 {
		r.CapPPM = &limit.CapPPM
	}
	if o.Method == "pumped" {
		for _, p := range o.Pieces {
			r.Pump = append(r.Pump, PumpReport{p.Name, o.Pump * p.GreenG})
		}
	}
	for _, lot := range o.Lots {
		done, err := o.lot(recipe, limit, lot)
		if err != nil {
			return r, quantity.Misuse("flitch dose --help", "slab %s: %v", lot.Name, err)
		}
		r.Lots = append(r.Lots, done)
	}
	return r, nil
}

// lot doses one lot and asks the checks, of what was weighed if it was.
func (o Order) lot(recipe cure.Recipe, limit cure.Limit, lot Lot) (LotReport, error) {
	out := LotReport{Name: lot.Name, GreenG: lot.GreenG, SkinOn: o.SkinOn || lot.SkinOn}
	var ppm, askedG float64
	var goesIn cure.Portion // what was weighed, or else what is asked
	if o.PPM > 0 {
		p, err := recipe.Asked(lot.GreenG, o.SkinOn || lot.SkinOn)
		if err != nil {
			return out, err
		}
		out.Asked, ppm, askedG, goesIn = &p, p.PPM, p.CureG, p
		out.Checks = append(out.Checks, cure.CheckScale(askedG))
		if o.SaltPart > 0 && p.SaltG < 0 {
			out.Checks = append(out.Checks, tooSalty(p, o.SaltPart, lot.GreenG))
		}
	}
	if lot.WeighedG > 0 {
		p, err := recipe.Weighed(lot.GreenG, lot.WeighedG, o.SkinOn || lot.SkinOn)
		if err != nil {
			return out, err
		}
		out.Weighed, ppm, goesIn = &p, p.PPM, p
	}
	if o.PPM > 0 {
		out.Checks = append(out.Checks, cure.CheckWeighed(askedG, lot.WeighedG), cure.CheckSlip(askedG, lot.WeighedG))
	}
	out.Checks = append(out.Checks, limit.CheckCap(ppm), limit.CheckNitrate(recipe.Mix))
	if c, ok := o.mostNitrate(goesIn); ok {
		out.Checks = append(out.Checks, c)
	}
	out.Least = o.least(ppm)
	return out, nil
}

func tooSalty(p cure.Portion, part, greenG float64) cure.Check {
	return cure.Check{
		Name: "common salt", Answer: cure.Held, Value: p.SaltPct, Limit: 100 * part, Unit: "%",
		Rule: "curing salt and common salt come to what was asked", Source: "arithmetic",
		Hint: "the curing salt alone brings more salt than was asked: ask for more salt, or take a stronger curing salt",
	}
}

// least compares the dose with each minimum of the rule. Which of them applies is
// the user's to say, so they do not decide.
func (o Order) least(ppm float64) []cure.Check {
	out := []cure.Check{}
	if o.Rule == "none" || o.Rule == "" {
		return out
	}
	for _, row := range o.curing().Least() {
		if row.Kind == "exact" {
			continue
		}
		l := cure.Limit{LeastPPM: row.PPM, Rule: row.AppliesTo, Source: row.Source + " (" + row.Provenance + ")"}
		if c, ok := l.CheckLeast(ppm); ok {
			out = append(out, c)
		}
	}
	return out
}

func (o Order) basis() string {
	text := map[string]string{
		"dry": "green weight", "bag": "green weight", "comminuted": "green weight of the meat block",
		"immersion": "green weight and pickle, when all is even", "pumped": "green weight, by the pump",
	}[o.Method]
	if o.SkinOn {
		text += "; skin on: 0.9 of it counts (US handbook for bacon, read in a quotation)"
	}
	return text
}

// Complaint is the error of a report whose checks are not all met.
func (r Report) Complaint() error {
	notMet, held := 0, 0
	for _, lot := range r.Lots {
		for _, c := range lot.Checks {
			switch c.Answer {
			case cure.NotMet:
				notMet++
			case cure.Held:
				held++
			}
		}
	}
	if notMet+held == 0 {
		return nil
	}
	return quantity.Problem("the lines marked not met or held, before anything goes on the meat", "%s not met, %d held", checks(notMet), held)
}

// Cautions are said each time.
func Cautions() []string {
	return []string{
		"Nitrite is a poison in small amounts: signs from 0.2 to 0.5 g have been reported.",
		"Weigh in grams, on a scale that shows 0.1 g or finer, for each slab on its green weight. Never by the spoon.",
		"Read the percent on your packet: flitch multiplies, it does not know what is in it.",
		"Do not mix kinds of curing salt. Long cures with nitrate are not for bacon.",
		"Keep it coloured, labelled, apart from salt and out of children's reach.",
		"Too little is a hazard too, when the meat is smoked slowly or vacuum packed.",
	}
}

// trimmed writes a number with up to three decimals.
func trimmed(v float64) string { return strconv.FormatFloat(quantity.Thousandths(v), 'g', -1, 64) }

func checks(n int) string {
	if n == 1 {
		return "1 check"
	}
	return fmt.Sprintf("%d checks", n)
}
