package engine

import (
	"encoding/json"
	"maps"
	"slices"
	"strings"

	"flitch/process"
)

// batch returns the open batch of that name, or nil.
func (h *House) batch(id string) *process.Batch {
	i, ok := h.find(id)
	if !ok {
		return nil
	}
	return h.open[i]
}

func (h *House) find(id string) (int, bool) {
	return slices.BinarySearchFunc(h.open, id, func(b *process.Batch, id string) int { return strings.Compare(b.ID, id) })
}

func (h *House) add(b *process.Batch) {
	i, _ := h.find(b.ID)
	h.open = slices.Insert(h.open, i, b)
	h.judged[b.ID] = judge(b)
	h.changeBatch(b)
}

func (h *House) remove(id string) {
	if i, ok := h.find(id); ok {
		h.closed[id] = h.open[i]
		h.open = slices.Delete(h.open, i, i+1)
		delete(h.seen, id)
	}
}

func (h *House) replace(b *process.Batch) {
	if i, ok := h.find(b.ID); ok {
		h.open[i] = b
	}
}

// IsOpen reports whether a batch is open as of the last evaluated input.
func (e *Engine) IsOpen(id string) bool {
	e.mu.Lock()
	defer e.mu.Unlock()
	return e.house.batch(id) != nil
}

// Batch returns a copy of an open batch as of the last evaluated input.
func (e *Engine) Batch(id string) (*process.Batch, bool) {
	e.mu.Lock()
	defer e.mu.Unlock()
	b := e.house.batch(id)
	if b == nil {
		return nil, false
	}
	return copyOf(b), true
}

// Batches returns copies of all open batches, sorted by name.
func (e *Engine) Batches() []*process.Batch {
	e.mu.Lock()
	defer e.mu.Unlock()
	out := make([]*process.Batch, len(e.house.open))
	for i, b := range e.house.open {
		out[i] = copyOf(b)
	}
	return out
}

// Places returns copies of all places, in the order of the configuration.
func (e *Engine) Places() []*process.Place {
	e.mu.Lock()
	defer e.mu.Unlock()
	out := make([]*process.Place, len(e.house.places))
	for i, p := range e.house.places {
		out[i] = p.Copy()
	}
	return out
}

// Faulty reports whether a part of flitch is out of order, as the log tells it.
func (e *Engine) Faulty(part string) bool {
	e.mu.Lock()
	defer e.mu.Unlock()
	_, standing := e.house.faults[part]
	return standing
}

// Faults lists the parts of flitch that are out of order, as the log tells it.
func (e *Engine) Faults() []string {
	e.mu.Lock()
	defer e.mu.Unlock()
	return slices.Sorted(maps.Keys(e.house.faults))
}

// Cursor returns the number of the last evaluated input.
func (e *Engine) Cursor() int64 {
	e.mu.Lock()
	defer e.mu.Unlock()
	return e.cursor
}

// copyOf goes the way over the stored form, so that what is shown is what would
// be there after a restart.
func copyOf[T any](v *T) *T {
	out := new(T)
	state, err := json.Marshal(v)
	if err == nil {
		err = json.Unmarshal(state, out)
	}
	if err != nil { // the state holds only numbers, text and times
		panic("engine: state cannot be copied: " + err.Error())
	}
	return out
}
