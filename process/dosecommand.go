package process

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"flitch/process/cure"
)

const (
	// mostCureG bounds what can have been weighed for one piece or brine, g
	// (proposal: a barrel of brine takes less).
	mostCureG = 20_000

	// undosedAfter is how long a cure lasts from which a batch is taken to have been
	// dosed in it, and not to have been entered late for what comes after (proposal).
	undosedAfter = time.Hour
)

const dosedExample = "flitch batch dosed BATCH --cure A:5.7g --asked A:5.7g --nitrite 6.25% --rule us"

// checkDosed refuses a dose that cannot be worked out. One that fails its checks is
// taken: what was weighed belongs on the record, and the next step is refused.
func (b *Batch) checkDosed(c Command) error {
	if c.Dosing == nil || len(c.Dosing.Portions) == 0 {
		return refuse("a dose without a weight", "say what was weighed for which piece: "+dosedExample)
	}
	said := b.completed(*c.Dosing)
	if err := said.check(); err != nil {
		return err
	}
	for _, p := range b.orAsked(*c.Dosing, c.Dosing.Portions) {
		if err := b.checkPortion(c, said, p); err != nil {
			return err
		}
	}
	return nil
}

func (d Dosing) check() error {
	mix := cure.CuringSalt{Nitrite: d.Nitrite, Nitrate: d.Nitrate}
	if err := mix.Check(); err != nil {
		return refuse(strings.TrimPrefix(err.Error(), "dose: "), "the percent on your packet: --nitrite 6.25%")
	}
	if c := mix.CheckStrength(); c.Answer != cure.Met {
		return refuse(fmt.Sprintf("%.4g %% nitrite is held: %s", c.Value, c.Hint), "the percent on your packet: --nitrite 6.25%")
	}
	if d.Rule == "" {
		return refuse("nobody said by whose limits the dose is checked", "--rule us, canada, fda-home or none")
	}
	if d.Method == "" || d.Product == "" {
		return refuse("the plan does not say how the cure gets in, or into what", "--method dry, bag, immersion, pumped or comminuted, and --product bacon or meat")
	}
	if _, err := d.limit(); err != nil {
		return refuse(err.Error(), "--rule us, canada, fda-home or none")
	}
	return nil
}

func (b *Batch) checkPortion(c Command, said Dosing, p DosePortion) error {
	if len(p.Pieces) == 0 {
		return refuse("a weight without its piece", "name one of "+b.pieceList())
	}
	if err := b.checkPieces(Command{Pieces: p.Pieces}); err != nil {
		return err
	}
	name := strings.Join(p.Pieces, "+")
	switch {
	case !(p.CureG > 0 && p.CureG <= mostCureG) || !(p.AskedG >= 0 && p.AskedG <= mostCureG):
		return refuse(fmt.Sprintf("%s: %g g weighed, %g g asked: no such dose", name, p.CureG, p.AskedG), "grams of curing salt on a scale that shows 0.1 g: A:5.7g")
	case p.AskedG == 0 && said.PPM == 0:
		return refuse(name+": nobody said what was asked", "--ppm 120, or the grams of the recipe: --asked A:5.7g")
	case strings.TrimSpace(c.Text) == "" && slices.ContainsFunc(p.Pieces, func(piece string) bool { return b.Dose(piece) != nil }):
		return refuse(name+" has a dose already: "+b.Dose(p.Pieces[0]).orElse(name), "to correct it say why: --text \"typed wrongly\"")
	}
	if _, err := b.doseEntry(said, p); err != nil {
		return refuse(name+": "+strings.TrimPrefix(err.Error(), "dose: "), "flitch dose --help")
	}
	return nil
}

func (e *DoseEntry) orElse(text string) string {
	if e == nil {
		return text
	}
	return fmt.Sprintf("%.4g g, typed %s by %s", e.CureG, e.Typed.Format(time.RFC3339), e.By)
}

// dosed takes the doses that checkDosed has let through. The cure of a piece counts
// from when its dose in force went on, and the clock is that of the piece dosed last.
func (b *Batch) dosed(c Command) {
	said := b.completed(*c.Dosing)
	for _, p := range b.orAsked(*c.Dosing, c.Dosing.Portions) {
		e, err := b.doseEntry(said, p)
		if err != nil {
			continue // refused by checkDosed; a log of another version may hold it
		}
		e.ID, e.At, e.Typed, e.By, e.Why = c.ID, c.At, c.Typed, c.By, c.Text
		b.Doses = append(b.Doses, e)
	}
	from := b.lastDosed()
	for _, t := range b.Tracks {
		if !t.Cure.From.Equal(from) {
			t.Cure = CureSum{From: from}
		}
	}
	b.NeedsRecount = b.NeedsRecount || b.countedAfter(c.At)
}

// lastDosed is when the newest of the doses in force went on.
func (b *Batch) lastDosed() (at time.Time) {
	for _, p := range b.Pieces {
		if e := b.Dose(p.Name); e != nil && e.At.After(at) {
			at = e.At
		}
	}
	return at
}

// undosed are the pieces without a dose, of a batch in which doses are logged.
func (b *Batch) undosed() (names []string) {
	if len(b.Doses) == 0 && !b.Plan.Cure.Dosed {
		return nil
	}
	for _, p := range b.Pieces {
		if b.Dose(p.Name) == nil {
			names = append(names, p.Name)
		}
	}
	return names
}

// dosesOpen says what keeps the batch in its cure: doses that fail their checks, and
// pieces that have none. Empty: nothing.
func (b *Batch) dosesOpen(at time.Time) (open []string) {
	for _, e := range b.DosesInForce() {
		if e.fails() {
			open = append(open, e.Text())
		}
	}
	if names := b.undosed(); len(names) > 0 && (len(b.Doses) > 0 || at.Sub(b.cureStarted()) >= undosedAfter) {
		open = append(open, strings.Join(names, ", ")+": no cure was logged")
	}
	return open
}

// checkDoses refuses to leave the cure with a dose that is not right, unless a person
// says why it goes on all the same.
func (b *Batch) checkDoses(c Command) error {
	if b.Stage().Name != StageCure || strings.TrimSpace(c.Text) != "" {
		return nil
	}
	if open := b.dosesOpen(c.At); len(open) > 0 {
		return refuse("the doses are not in order: "+strings.Join(open, "; "),
			"log what was weighed: flitch batch dosed; or say why it goes on all the same: --text \"weighed by T.V., not logged\"")
	}
	return nil
}
