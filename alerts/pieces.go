package alerts

import (
	"slices"
	"time"
)

// maxPieces bounds the memory of one sum. A day of defrosts and door openings
// has fewer.
const maxPieces = 48

// A Piece is one stretch of time beyond a limit.
type Piece struct {
	From time.Time `json:"from"`
	To   time.Time `json:"to"`
}

// add appends p, joining it to the piece it continues.
func (s *Sustained) add(p Piece) {
	n := len(s.Pieces)
	if n > 0 && s.Pieces[n-1].To.Equal(p.From) {
		s.Pieces[n-1].To = p.To
		return
	}
	if n == maxPieces {
		s.joinOldest()
	}
	s.Pieces = append(s.Pieces, p)
}

// joinOldest makes one piece of the two oldest. The older one is moved up to the
// younger: no minute is lost, and it is remembered a little longer than it should.
func (s *Sustained) joinOldest() {
	first := s.Pieces[0]
	s.Pieces[1].From = s.Pieces[1].From.Add(-first.To.Sub(first.From))
	s.Pieces = slices.Delete(s.Pieces, 0, 1)
}

// forget drops what lies before start.
func (s *Sustained) forget(start time.Time) {
	gone := 0
	for gone < len(s.Pieces) && !s.Pieces[gone].To.After(start) {
		gone++
	}
	s.Pieces = slices.Delete(s.Pieces, 0, gone)
	if len(s.Pieces) > 0 && s.Pieces[0].From.Before(start) {
		s.Pieces[0].From = start
	}
}

// sum is the time beyond the limit within the window.
func (s *Sustained) sum() time.Duration { return s.newer(time.Time{}) }

// newer is the part of the sum that is after from.
func (s *Sustained) newer(from time.Time) time.Duration {
	var d time.Duration
	for _, p := range s.Pieces {
		if p.From.Before(from) {
			p.From = from
		}
		d += max(0, p.To.Sub(p.From))
	}
	return d
}
