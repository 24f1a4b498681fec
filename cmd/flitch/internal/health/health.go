// Package health keeps what is wrong with flitch itself, as values: a disk that
// does not take what is written, a broker out of reach, a phone path that is
// dead. Whoever asks whether flitch is well asks here.
package health

import (
	"slices"
	"strings"
	"sync"
)

// A Fault is one part of flitch that does not work now.
type Fault struct {
	Part string // "disk", "broker", "phone path tv-phone"
	Text string // what is wrong, in words
}

// Faults is the set of what is wrong now. Its zero value is well.
type Faults struct {
	mu      sync.Mutex
	faults  map[string]string
	Changed func(part, text string) // called outside the lock when a fault begins (text set) or ends (text empty)
}

// Set notes that a part has failed.
func (f *Faults) Set(part, text string) {
	f.mu.Lock()
	if f.faults == nil {
		f.faults = map[string]string{}
	}
	_, known := f.faults[part]
	f.faults[part] = text
	f.mu.Unlock()
	if !known && f.Changed != nil {
		f.Changed(part, text)
	}
}

// Clear notes that a part works again.
func (f *Faults) Clear(part string) {
	f.mu.Lock()
	_, known := f.faults[part]
	delete(f.faults, part)
	f.mu.Unlock()
	if known && f.Changed != nil {
		f.Changed(part, "")
	}
}

// Has reports whether a part has failed and is not back.
func (f *Faults) Has(part string) bool {
	f.mu.Lock()
	defer f.mu.Unlock()
	_, known := f.faults[part]
	return known
}

// List returns what is wrong now, sorted by part.
func (f *Faults) List() []Fault {
	f.mu.Lock()
	defer f.mu.Unlock()
	out := make([]Fault, 0, len(f.faults))
	for part, text := range f.faults {
		out = append(out, Fault{part, text})
	}
	slices.SortFunc(out, func(a, b Fault) int { return strings.Compare(a.Part, b.Part) })
	return out
}
