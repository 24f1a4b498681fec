package process

import "flitch/process/lethality"

// KillSums is the lethality of one core by models, beside the row of the rule.
type KillSums struct {
	Salmonella lethality.Sum `json:"salmonella"`
	Listeria   lethality.Sum `json:"listeria"`
}

// add earns credit for a part of a segment, at the cold end of the probe's
// uncertainty. A gap earns nothing.
func (k *KillSums) add(s span, uncertainty float64) {
	seg := s.shifted(-uncertainty)
	salmonella := lethality.Salmonella()
	if seg.warmer() < salmonella.FloorC { // the lower of both floors
		return
	}
	k.Salmonella.Add(salmonella, seg.v1, seg.v2, s.minutes(), s.bridge())
	k.Listeria.Add(lethality.Listeria(), seg.v1, seg.v2, s.minutes(), s.bridge())
}
