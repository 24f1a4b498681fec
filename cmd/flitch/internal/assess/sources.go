package assess

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"flitch/process"
)

// A source is a probe that some row of the file names, whether or not that row could
// be read: what it was there to see and nobody can read has to count as not seen.
type source struct {
	probe    string // name it goes by
	place    process.Placement
	times    []time.Time // of its rows, whether or not they could be read
	read     int         // rows that could be
	timeless bool        // a row of it has no time that can be read
	unnamed  bool        // its rows name no probe
	unread   []stray     // of them, those that could not be read
}

// sources are the probes of a file. Each name is held once: one that is cut out of its
// line would keep the text of the whole line in memory, for each line of the file.
type sources struct {
	places []process.Placement
	list   []*source
	known  map[sourceKey]*source
	names  map[string]bool
}

// A sourceKey is how the rows of a source name it. One name at two placements is two
// probes: a core must not hide behind the chamber.
type sourceKey struct {
	place process.Placement
	probe string
}

func newSources() sources {
	return sources{process.Placements(), nil, map[sourceKey]*source{}, map[string]bool{}}
}

func (s *sources) place(text string) (process.Placement, error) {
	i := slices.Index(s.places, process.Placement(text))
	if i < 0 {
		return "", fmt.Errorf("placement %q: one of %v", text, s.places)
	}
	return s.places[i], nil
}

// of is the source of a row. One that names no probe goes by its placement.
func (s *sources) of(place process.Placement, probe string) *source {
	if known := s.known[sourceKey{place, probe}]; known != nil {
		return known
	}
	probe = strings.Clone(probe)
	next := &source{probe: probe, place: place, unnamed: probe == ""}
	if next.unnamed {
		next.probe = string(place)
	}
	s.known[sourceKey{place, probe}] = next
	for s.names[next.probe] {
		next.probe += " as " + string(place)
	}
	s.names[next.probe] = true
	s.list = append(s.list, next)
	return next
}

// lose notes a row that could not be read.
func (s *source) lose(line int, at time.Time) {
	if s.unnamed {
		s.unread = append(s.unread, stray{line, at})
	}
}

// settle returns the rows that are of no probe after all: they name none and could not
// be read, in a file that names the probes of their placement. A line that is torn is
// no probe of its own.
func (s *sources) settle() (strays []stray) {
	named := func(p process.Placement) bool {
		return slices.ContainsFunc(s.list, func(of *source) bool { return of.place == p && !of.unnamed })
	}
	var list []*source
	for _, of := range s.list {
		if of.unnamed && of.read == 0 && named(of.place) {
			strays = append(strays, of.unread...)
			continue
		}
		list = append(list, of)
	}
	s.list = list
	return strays
}

// beginAt forgets what was before the batch began.
func (s *sources) beginAt(began time.Time) {
	for _, of := range s.list {
		of.times = slices.DeleteFunc(of.times, func(at time.Time) bool { return at.Before(began) })
	}
}
