package process

import "flitch/process/cure"

// A DoseLot is what is dosed apart: a piece, or all of them in one brine or pickle.
type DoseLot struct {
	Pieces []string
	AskedG float64 // curing salt to weigh, g; 0: nobody has said enough to know
}

// Said is packet, rule and what is asked of the batch, as far as people and plan have
// said it.
func (b *Batch) Said() Dosing { return b.completed(Dosing{}) }

// DoseLots are what there is to weigh, in the order of the pieces.
func (b *Batch) DoseLots() (lots []DoseLot) {
	said := b.Said()
	var list []DosePortion
	for _, p := range b.Pieces {
		list = append(list, DosePortion{Pieces: []string{p.Name}})
	}
	if m := cure.Method(said.Method); m == cure.Immersed || m == cure.Pumped {
		for _, p := range list[1:] {
			list[0].Pieces = append(list[0].Pieces, p.Pieces...)
		}
		list = list[:1]
	}
	for _, p := range b.orAsked(Dosing{}, list) {
		if p.AskedG == 0 {
			p.CureG = 1 // what is asked does not look at what was weighed
			if e, err := b.doseEntry(said, p); err == nil && said.PPM > 0 {
				p.AskedG = e.AskedG
			}
		}
		lots = append(lots, DoseLot{Pieces: p.Pieces, AskedG: p.AskedG})
	}
	return lots
}
