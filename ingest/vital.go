package ingest

import (
	"fmt"

	"flitch/ingest/decode"
)

// A VitalAt says where in a payload a sensor tells of its battery or its signal.
type VitalAt struct {
	Kind    string // process.VitalBattery or process.VitalSignal
	Pointer string // JSON pointer (RFC 6901), not empty; of Sparkplug the name of a metric

	// Of Sparkplug: the unit that the value has to be in, and whether Pointer is only
	// the last part of a name, in capitals or not.
	Unit  string
	Loose bool
}

// A Vital is what a sensor told of itself. It is no reading: nothing is promised of it,
// and one that is missing or no number is passed over.
type Vital struct {
	Probe string
	Kind  string
	Value float64 // as sent
}

type vitalField struct {
	kind  string
	field decode.Field
}

func compileVitals(list []VitalAt) (out []vitalField, err error) {
	for _, v := range list {
		if v.Kind == "" || v.Pointer == "" {
			return nil, fmt.Errorf("what a sensor tells of itself needs a kind and a pointer")
		}
		f, err := decode.NewField(decode.Spec{Value: v.Pointer})
		if err != nil {
			return nil, err
		}
		out = append(out, vitalField{v.Kind, f})
	}
	return out, nil
}

// tell takes what the sensor told of itself. A copy that the broker kept is of unknown
// age and tells nothing of today.
func (it *item) tell(doc *decode.Document, r *route) {
	if it.retained {
		return
	}
	for i := range r.vitals {
		v := &r.vitals[i]
		if s, err := doc.Read(&v.field); err == nil {
			it.vitals = append(it.vitals, Vital{r.probe.Probe, v.kind, s.Value})
		}
	}
}
