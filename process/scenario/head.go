package scenario

import (
	"slices"
	"strconv"
	"strings"
	"time"

	"flitch/process"
)

// heads are the lines of the head, by their first word.
var heads = map[string]func(*parser, string) error{
	"scenario": (*parser).text, "batch": (*parser).text, "by": (*parser).text, "zone": (*parser).text, "plan": (*parser).text, "fuel": (*parser).text,
	"begins": (*parser).begins, "seed": (*parser).seed, "piece": (*parser).piece, "probe": (*parser).probeLine, "person": (*parser).person,
	"fridge": (*parser).place, "smoker": (*parser).place, "freezer": (*parser).place, "room": (*parser).place,
}

// many are the lines that may stand more than once.
var many = []string{"piece", "probe", "person", "fridge", "smoker", "freezer", "room"}

func (p *parser) headLine(read func(*parser, string) error) error {
	key, err := p.next("a word", "")
	switch {
	case err != nil:
		return err
	case p.body:
		return wrong("it above the first time", "%s belongs to the head", key)
	case p.said[key] && !slices.Contains(many, key):
		return wrong("one of them", "%s stands twice", key)
	}
	p.said[key] = true
	if err := read(p, key); err != nil {
		return err
	}
	return p.end()
}

// headOver complains about what the head does not say.
func (p *parser) headOver() error {
	switch {
	case !p.said["begins"]:
		return wrong("begins 2031-04-07T20:00:00+02:00", "the head does not say when the night begins")
	case !p.said["plan"]:
		return wrong("plan belly-dry-cured", "the head names no plan")
	case !p.said["piece"]:
		return wrong("piece A 2268g 38mm", "the head names no piece")
	}
	return nil
}

func (p *parser) text(key string) error {
	into, example := &p.Title, `scenario "Ember at Three"`
	switch key {
	case "batch":
		into, example = &p.Batch, "batch OL-31-09"
	case "by":
		into, example = &p.By, "by T.V."
	case "zone":
		into, example = &p.Zone, "zone Europe/Vienna"
	case "plan":
		into, example = &p.Plan, "plan belly-dry-cured"
	case "fuel":
		into, example = &p.Fuel, "fuel wood, or fuel electric"
	}
	text, err := p.free("what comes after "+key, example)
	switch {
	case err != nil:
		return err
	case strings.TrimSpace(text) == "" || len(text) > 200:
		return wrong(example, "%s with nothing, or too much, behind it", key)
	case key == "fuel" && text != "wood" && text != "electric":
		return wrong(example, "fuel %q is not known", text)
	}
	*into = text
	return nil
}

const beginsExample = "begins 2031-04-07T20:00:00+02:00, with the difference to UTC"

func (p *parser) begins(string) error {
	text, err := p.next("when", beginsExample)
	if err != nil {
		return err
	}
	at, err := time.Parse(time.RFC3339, text)
	if err != nil {
		at, err = time.Parse("2006-01-02T15:04Z07:00", text)
	}
	_, offset := at.Zone()
	if err != nil || at.Nanosecond() != 0 || at.Year() < 1971 || at.Year() > 9000 || offset%60 != 0 {
		return wrong(beginsExample, "%q is not a time", text)
	}
	p.Begins = at.In(time.FixedZone("", offset))
	return nil
}

func (p *parser) seed(string) error {
	text, err := p.next("a number", "seed 9")
	if err != nil {
		return err
	}
	if p.Seed, err = strconv.ParseUint(text, 10, 64); err != nil {
		return wrong("seed 9", "%q is not a whole number", text)
	}
	return nil
}

const pieceExample = "piece A 2268g 38mm, and skin behind it if that is on"

func (p *parser) piece(string) error {
	name, err := p.name("the name of a piece", pieceExample)
	if err != nil {
		return err
	}
	piece := process.Piece{Name: name}
	if piece.GreenG, err = p.measured(grams); err != nil {
		return err
	}
	if piece.ThicknessMM, err = p.measured(millimetres); err != nil {
		return err
	}
	piece.SkinOn = p.is("skin")
	switch {
	case p.hasPiece(name):
		return wrong("another letter", "piece %s is there twice", name)
	case !(piece.GreenG > 0 && piece.GreenG <= 100_000):
		return wrong(pieceExample, "a piece of %gg", piece.GreenG)
	case !(piece.ThicknessMM > 0 && piece.ThicknessMM <= 500):
		return wrong(pieceExample, "a piece %gmm thick", piece.ThicknessMM)
	}
	p.Pieces = append(p.Pieces, piece)
	return nil
}

// measured takes a weight or a length.
func (p *parser) measured(units map[string]float64) (float64, error) {
	text, err := p.next("weight or thickness", pieceExample)
	if err != nil {
		return 0, err
	}
	q, err := quantity(text, pieceExample)
	if err != nil {
		return 0, err
	}
	factor, ok := units[q.Unit]
	if !ok {
		return 0, wrong(pieceExample, "%q has not the right unit", text)
	}
	return q.Number * factor, nil
}

func (p *parser) place(kind string) error {
	name, err := p.name("the name of a "+kind, kind+" alder")
	switch {
	case err != nil:
		return err
	case p.hasPlace(name):
		return wrong("another name", "there are two places %s", name)
	}
	p.Places = append(p.Places, Place{name, process.Where(kind)})
	return nil
}

const probeExample = "probe core-1 core in old-kettle piece A every 1m"

func (p *parser) probeLine(string) error {
	name, err := p.name("the name of a probe", probeExample)
	if err != nil {
		return err
	}
	probe := process.PlacedProbe{Probe: name, Uncertainty: defaultUncertainty}
	if err := p.probeWhere(&probe); err != nil {
		return err
	}
	if err := p.want("every", probeExample); err != nil {
		return err
	}
	if probe.Interval, err = p.span(probeExample); err != nil {
		return err
	}
	if p.is("uncertainty") {
		if probe.Uncertainty, err = p.uncertainty(); err != nil {
			return err
		}
	}
	if p.probe(name) != nil {
		return wrong("another name", "there are two probes %s", name)
	}
	p.Probes = append(p.Probes, probe)
	return nil
}

// probeWhere reads the placement, the place and the piece.
func (p *parser) probeWhere(probe *process.PlacedProbe) error {
	placement, err := p.next("what the probe measures", probeExample)
	if err != nil {
		return err
	}
	if probe.Placement = process.Placement(placement); !slices.Contains(process.Placements(), probe.Placement) {
		return wrong(probeExample, "%q is no placement: one of %v", placement, process.Placements())
	}
	if err := p.want("in", probeExample); err != nil {
		return err
	}
	if probe.Place, err = p.next("a place", probeExample); err != nil {
		return err
	}
	if !p.hasPlace(probe.Place) {
		return wrong("the place above the probe: fridge "+probe.Place, "there is no place %q yet", probe.Place)
	}
	if p.is("piece") {
		if probe.Piece, err = p.next("a piece", probeExample); err != nil {
			return err
		}
		if !p.hasPiece(probe.Piece) {
			return wrong("the piece above the probe", "there is no piece %q yet", probe.Piece)
		}
	}
	return nil
}

func (p *parser) uncertainty() (float64, error) {
	text, err := p.next("how uncertain", "uncertainty 0.5C")
	if err != nil {
		return 0, err
	}
	q, err := quantity(text, "uncertainty 0.5C")
	if err != nil {
		return 0, err
	}
	if (q.Unit != "C" && q.Unit != "F") || q.Number < 0 || q.Number > 20 {
		return 0, wrong("uncertainty 0.5C", "uncertain by %s", q)
	}
	return q.difference(), nil
}

func (p *parser) span(example string) (time.Duration, error) {
	text, err := p.next("how long", example)
	if err != nil {
		return 0, err
	}
	return span(text, example)
}
