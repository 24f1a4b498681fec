package growth

import "math"

// Level is how a predicted growth is to be taken. It raises alarms; it is not a
// verdict.
type Level string

// The levels, in order.
const (
	Green Level = "green"
	Note  Level = "note"
	Amber Level = "amber"
	Red   Level = "red"
)

// Bands are the decimal growths at which the levels begin, each included; +Inf
// where there is no such level.
type Bands struct {
	NoteLog, AmberLog, RedLog float64
	Source                    string
	Provenance                string
}

// Level returns the level of a predicted decimal growth. A value that is no number
// is red.
func (b Bands) Level(deltaLog float64) Level {
	switch {
	case !(deltaLog < b.RedLog):
		return Red
	case deltaLog >= b.AmberLog:
		return Amber
	case deltaLog >= b.NoteLog:
		return Note
	}
	return Green
}

// PerfringensBands returns the levels for C. perfringens in chilling. The 1 log is
// the federal standard (9 CFR 318.17(a)(2), seen); the amber level is a choice of
// this project.
func PerfringensBands() Bands {
	return Bands{NoteLog: math.Inf(1), AmberLog: 0.5, RedLog: 1,
		Source: "1 log: 9 CFR 318.17(a)(2), seen; 0.5 log: choice of this project", Provenance: "seen"}
}

// AureusBands returns the levels for S. aureus in come-up, without lag: 2 log is
// the purpose of the come-up rule, from 3 log the guideline asks for a test for
// toxin (FSIS-GD-2021-14 p. 23 and 71, seen).
func AureusBands() Bands {
	return Bands{NoteLog: math.Inf(1), AmberLog: 2, RedLog: 3,
		Source: "FSIS-GD-2021-14 p. 23 (at most 2 log) and p. 71 (from 3 log test for enterotoxin), seen; as alarm levels a choice of this project", Provenance: "seen"}
}

// ListeriaBands returns the levels for L. monocytogenes in the hold: a doubling is
// a note, 1 log red (choice of this project).
func ListeriaBands() Bands {
	return Bands{NoteLog: math.Log10(2), AmberLog: math.Inf(1), RedLog: 1,
		Source: "choice of this project: a doubling, and one log", Provenance: "proposal"}
}

// SalmonellaBands returns the level for vegetative pathogens: up to 1 log of
// modelled growth is acceptable to the guideline (FSIS-GD-2021-14 p. 70, seen).
// Above it, the product is cooked again with that many logs more, or tested.
func SalmonellaBands() Bands {
	return Bands{NoteLog: math.Inf(1), AmberLog: math.Inf(1), RedLog: math.Nextafter(1, 2),
		Source: "FSIS-GD-2021-14 p. 70: up to 1 log of modelled growth, seen", Provenance: "seen"}
}
