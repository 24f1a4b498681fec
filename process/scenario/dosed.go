package scenario

import (
	"strconv"

	"flitch/process"
)

// DoseSaid is what was said of a dose beside its weight.
type DoseSaid struct {
	Asked   Quantity // a weight; zero: by PPM
	PPM     float64
	Nitrite Quantity // of the curing salt, %; zero: as before
	Rule    string
}

const dosedExample = `09:05 dosed A 5.7g asked 5.7g nitrite 6.25% rule us, or with ppm 156 in place of asked 5.7g`

func (p *parser) dosed(e *Event) (err error) {
	if e.Pieces, err = p.pieces(); err != nil {
		return err
	}
	e.Of = process.Weight
	if e.Value, err = p.value(e.Of, dosedExample); err != nil {
		return err
	}
	if p.is("asked") {
		if e.Dose.Asked, err = p.value(e.Of, dosedExample); err != nil {
			return err
		}
	}
	if p.is("ppm") {
		if e.Dose.PPM, err = p.amount("ppm"); err != nil {
			return err
		}
	}
	if p.is("nitrite") {
		if e.Dose.Nitrite, err = p.value(process.Humidity, dosedExample); err != nil { // a percentage too
			return err
		}
	}
	if p.is("rule") {
		if e.Dose.Rule, err = p.name("a rule", "rule us, canada, fda-home or none"); err != nil {
			return err
		}
	}
	e.Text, err = p.why()
	return err
}

func (p *parser) amount(what string) (float64, error) {
	text, err := p.next(what, dosedExample)
	if err != nil {
		return 0, err
	}
	v, ok := isNumber(text)
	if !ok || v <= 0 {
		return 0, wrong(dosedExample, "%s %q is not a number above zero", what, text)
	}
	return v, nil
}

func (d DoseSaid) words() (words []string) {
	if !d.Asked.zero() {
		words = append(words, "asked", d.Asked.String())
	}
	if d.PPM > 0 {
		words = append(words, "ppm", strconv.FormatFloat(d.PPM, 'f', -1, 64))
	}
	if !d.Nitrite.zero() {
		words = append(words, "nitrite", d.Nitrite.String())
	}
	if d.Rule != "" {
		words = append(words, "rule", d.Rule)
	}
	return words
}

func (e Event) dosing() *process.Dosing {
	return &process.Dosing{PPM: e.Dose.PPM, Nitrite: e.Dose.Nitrite.value() / 100, Rule: e.Dose.Rule,
		Portions: []process.DosePortion{{Pieces: e.Pieces, CureG: e.Value.value(), AskedG: e.Dose.Asked.value()}}}
}
