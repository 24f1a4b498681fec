package assess

import "flitch/process"

// unsaid stands in for a piece that was not given: so light that nothing on a scale
// can be it.
var unsaid = process.Piece{Name: "A", GreenG: 1e-9, ThicknessMM: 1}

const noPiece = "no --piece: say the green weight and the thickness, --piece A:2268g:38mm"

// sized are the plan and the pieces of a request. Where no piece is given, the plan asks
// nothing that its size would decide.
func sized(r Request) (process.Plan, []process.Piece) {
	if len(r.Pieces) > 0 {
		return r.Plan, r.Pieces
	}
	p := r.Plan
	p.Cure.Water = 0 // no estimate by diffusion
	if p.Cure.DaysPerInch > 0 {
		p.Cure.Days, p.Cure.DaysPerInch = 0, 0
	}
	return p, []process.Piece{unsaid}
}

// sizes reports whether a clock of the plan, as it was given, needs the size of a piece.
func sizes(p process.Plan, name process.ClockName) bool {
	return name == process.ClockCure && p.Cure.DaysPerInch > 0 || name == process.ClockDrying
}
