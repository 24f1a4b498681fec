package web

import (
	"context"
	"slices"
	"strings"
	"time"

	"flitch/process"
)

// A NewRequest starts a batch by names; Batches turns them into a complete
// process.NewBatch with the configuration of this moment.
type NewRequest struct {
	Plan   string            `json:"plan"`             // name of a plan
	Pieces []process.Piece   `json:"pieces"`           // at least one
	Fridge string            `json:"fridge,omitempty"` // place; empty: none
	Smoker string            `json:"smoker,omitempty"` // place; empty: none
	Chill  string            `json:"chill,omitempty"`  // place it is chilled in; empty: the fridge
	Cores  map[string]string `json:"cores,omitempty"`  // probe to piece
	Asked  *process.Dosing   `json:"asked,omitempty"`  // packet, rule and what is to be weighed; nil: nothing is asked
}

// Batches knows what a batch can be begun with, and how its pieces stand.
type Batches interface {
	// Choices are all plans, and the places and core probes of the configuration.
	Choices(context.Context) (Choices, error)

	// Resolve makes the complete description of a batch. The error is a
	// *process.Refusal when the person is wrong.
	Resolve(NewRequest) (process.NewBatch, error)

	// Like is the request that would begin a batch like another one, open or closed, or a
	// *process.Refusal with NotFound set.
	Like(ctx context.Context, id string) (NewRequest, error)

	// Work is how the pieces of a batch stand, open or closed, or a *process.Refusal with
	// NotFound set.
	Work(ctx context.Context, id string) (Work, error)

	// Compare puts batches beside each other. The error is a *process.Refusal when one is
	// not there.
	Compare(ctx context.Context, ids []string) ([]Compared, error)
}

// Work is how the pieces of a batch stand: what was weighed of them, and how many they are.
type Work struct {
	Summary
	Class     process.Class
	Open      bool
	Pieces    []process.Piece
	Dosed     bool                // the plan asks for a dose of each piece
	Said      process.Dosing      // packet, rule and what is asked, as far as it is known
	Lots      []DoseLot           // what is dosed apart, in the order of the pieces
	Doses     []process.DoseEntry // in force
	Yield     []process.YieldStep
	Counts    []process.Count
	Tastes    []process.TasteEntry
	Cost      process.CostSum
	Stages    []process.StageEntry
	CureFrom  time.Time // since when it cures; zero: it does not
	CureDays  float64   // by the plan's rule
	CureRule  string
	TurnHours float64   // between two turns; 0: the plan asks for none
	Packed    time.Time // zero: not yet
	ColdC     float64   // the cold stages stay below; 0: the plan has none
	KeepDays  float64   // 0: the plan does not say
}

// A DoseLot is a piece, or all in one brine or pickle.
type DoseLot struct {
	Pieces []string
	AskedG float64 // curing salt to weigh; 0: not known yet
}

// Name is the pieces as a dose names them.
func (l DoseLot) Name() string { return strings.Join(l.Pieces, "+") }

// Dose is the entry in force for a lot; nil: there is none.
func (w Work) Dose(l DoseLot) *process.DoseEntry {
	for i := range w.Doses {
		if slices.Equal(w.Doses[i].Pieces, l.Pieces) {
			return &w.Doses[i]
		}
	}
	return nil
}

// A Compared is one batch beside others. Numbers that were not measured are absent.
type Compared struct {
	Summary
	Pieces    []process.Piece
	CureDays  float64 // calendar days from the dose to the end of the cure; 0: none
	PPM       []float64
	DoseFails bool // one of them fails its checks
	Turns     int
	Heat      []process.HeatMark
	Stalled   time.Duration
	HasCook   bool // a core was watched in the heat: no stall was then measured as none
	Chill     []process.Clock
	Yield     []process.YieldStep
	Rang      int // alarms that rang
	Tastes    []process.TasteEntry
	Cost      process.CostSum
}

// Choices are what there is to choose from for a new batch.
type Choices struct {
	Plans   []process.Plan
	Fridges []PlaceName // places of the kind
	Smokers []PlaceName
	Cores   []string // core probes
	Address string   // of the page, as the configuration names it for links; empty: it does not
}
