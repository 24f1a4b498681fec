package web

import (
	"context"
	"net/url"

	"flitch/process"
	"flitch/process/plans"
)

// The house of these tests has a fridge and a smoker with one core probe, and the plans
// that flitch brings along.
func (h *house) Choices(context.Context) (c Choices, err error) {
	c = Choices{Address: h.address, Fridges: []PlaceName{{Name: "alder", Title: "Alder"}}, Smokers: []PlaceName{{Name: "old-kettle", Title: "Old Kettle"}}, Cores: []string{"core-1", "core-2"}}
	for _, name := range plans.Names() {
		p, err := plans.BuiltIn(name)
		if err != nil {
			return c, err
		}
		c.Plans = append(c.Plans, p)
	}
	return c, h.fault
}

func (h *house) Resolve(r NewRequest) (process.NewBatch, error) {
	plan, err := plans.BuiltIn(r.Plan)
	b := process.NewBatch{Plan: plan, Pieces: r.Pieces, Asked: r.Asked}
	for probe, piece := range r.Cores {
		b.Probes = append(b.Probes, process.PlacedProbe{Probe: probe, Piece: piece, Placement: process.Core})
	}
	return b, err
}

func (h *house) Like(_ context.Context, id string) (NewRequest, error) {
	if id != h.work.ID {
		return NewRequest{}, &process.Refusal{What: "there is no batch " + id, NotFound: true}
	}
	return h.like, h.fault
}

func (h *house) Work(_ context.Context, id string) (Work, error) {
	if id != h.work.ID {
		return Work{}, &process.Refusal{What: "there is no batch " + id, NotFound: true}
	}
	return h.work, h.fault
}

func (h *house) Compare(_ context.Context, ids []string) ([]Compared, error) {
	var out []Compared
	for _, id := range ids {
		for _, c := range h.beside {
			if c.ID == id {
				out = append(out, c)
			}
		}
	}
	if len(out) < len(ids) {
		return nil, &process.Refusal{What: "there is no such batch", NotFound: true}
	}
	return out, h.fault
}

// belly is the form of a batch of two slabs, right in every field.
func belly(change map[string]string) url.Values {
	v := url.Values{}
	for name, value := range map[string]string{"id": "x", "by": "T.V.", "class": "not fully cooked", "plan": "belly-dry-cured", "name": "OL-31-40", "fridge": "alder", "smoker": "old-kettle",
		"rows": "4", "piece-0": "A", "weight-0": "2268", "thick-0": "38", "core-0": "core-1", "piece-1": "B", "weight-1": "5lb", "thick-1": "1.5in", "skin-1": "yes", "piece-2": "C", "piece-3": "D",
		"nitrite": "6.25", "ppm": "156", "rule": "us"} {
		v.Set(name, value)
	}
	for name, value := range change {
		v.Set(name, value)
	}
	return v
}
