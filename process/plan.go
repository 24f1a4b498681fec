package process

// StageName is one of the stages of the trade.
type StageName string

// The stages, in the usual order (design section 3).
const (
	StageReceive   StageName = "receive"
	StageCure      StageName = "cure"
	StageRinse     StageName = "rinse"
	StageEqualise  StageName = "equalise"
	StageDry       StageName = "dry"
	StageColdSmoke StageName = "cold-smoke"
	StageSmoke     StageName = "smoke"
	StageCook      StageName = "cook"
	StageRest      StageName = "rest"
	StageChill     StageName = "chill"
	StagePack      StageName = "pack"
	StageStore     StageName = "store"
)

// Where says what kind of place a stage happens in.
type Where string

// The kinds of place.
const (
	WhereFridge  Where = "fridge"
	WhereSmoker  Where = "smoker"
	WhereFreezer Where = "freezer"
	WhereRoom    Where = "room"
)

// Class says which of two different products comes out of the smoker. It is
// asked first, because the limits differ.
type Class string

// The product classes.
const (
	NotFullyCooked Class = "not fully cooked" // cooked by the eater; no lethality is claimed
	FullyCooked    Class = "fully cooked"     // a time-temperature row has to be met
)

// A Plan is a versioned recipe: class, stages, limits and where each comes from.
type Plan struct {
	Name    string      `json:"name" toml:"name"`
	Title   string      `json:"title" toml:"title"`
	Version int         `json:"version" toml:"version"`
	Hash    string      `json:"hash" toml:"-"` // SHA-256 of the plan's text, hex
	Class   Class       `json:"class" toml:"class"`
	Stages  []StagePlan `json:"stages" toml:"stage"`

	Cure      CureRule      `json:"cure" toml:"cure"`
	Turn      TurnRule      `json:"turn" toml:"turn"`
	Cold      ColdRule      `json:"cold" toml:"cold"`
	ComeUp    ComeUpRule    `json:"come_up" toml:"come_up"`
	Lethality LethalityRule `json:"lethality" toml:"lethality"` // Table empty: not asked by this class
	Chill     ChillRule     `json:"chill" toml:"chill"`
	Growth    GrowthRule    `json:"growth,omitzero" toml:"growth"`
	Humidity  HumidityRule  `json:"humidity,omitzero" toml:"humidity"`
	Ferment   FermentRule   `json:"ferment,omitzero" toml:"ferment"`
	Drying    DryingRule    `json:"drying,omitzero" toml:"drying"`
	Keep      KeepRule      `json:"keep,omitzero" toml:"keep"`

	Alarms []AlarmChange `json:"alarms,omitempty" toml:"alarm"` // that this product wants otherwise
}

// A StagePlan is one stage of a plan and what ends it. Zero ends are absent; a
// stage with no end but a person's word has Button true. Several ends must all
// be reached.
type StagePlan struct {
	Name     StageName `json:"name" toml:"name"`
	Where    Where     `json:"where" toml:"where"`
	SetC     float64   `json:"set_c,omitempty" toml:"set_c"`       // set point of the place, °C; 0 is off
	Hours    float64   `json:"hours,omitempty" toml:"hours"`       // ends after
	CoreC    float64   `json:"core_c,omitempty" toml:"core_c"`     // ends when the slowest core reaches
	Button   bool      `json:"button,omitempty" toml:"button"`     // ends by a person's word
	Cold     bool      `json:"cold,omitempty" toml:"cold"`         // the out-of-cold clock runs in it
	Heat     bool      `json:"heat,omitempty" toml:"heat"`         // fire is lit: fire, stall and come-up watched
	Optional bool      `json:"optional,omitempty" toml:"optional"` // may be left out
	Prompt   string    `json:"prompt,omitempty" toml:"prompt"`     // what the person does now
	Source   string    `json:"source,omitempty" toml:"source"`     // where the numbers come from
}

// CureRule is the user's rule for how long the cure is held. Days and
// DaysPerInch are added; a rule of thumb, shown as such, never called done.
type CureRule struct {
	Days        float64 `json:"days" toml:"days"`
	DaysPerInch float64 `json:"days_per_inch" toml:"days_per_inch"`
	ReferenceC  float64 `json:"reference_c" toml:"reference_c"` // one day at this temperature is one cure day
	Rule        string  `json:"rule" toml:"rule"`
	Source      string  `json:"source" toml:"source"`

	// For the estimate by diffusion beside the rule. Zero Water: none is made.
	Water float64 `json:"water,omitempty" toml:"water"` // water part of the green meat, 0 to 1
	Purge float64 `json:"purge,omitempty" toml:"purge"` // free liquid in the bag, part of the green weight; zero is the usual 0.04
	Shape string  `json:"shape,omitempty" toml:"shape"` // "slab" (also when empty), "cylinder" or "sphere"
	PH    float64 `json:"ph,omitempty" toml:"ph"`       // of the meat; zero is the usual 5.8

	// Curing salt with nitrite: whether a dose is asked for each piece before the cure
	// is left, how it gets in and into what, as process/cure and process/rules name it.
	Dosed   bool   `json:"dosed,omitempty" toml:"dosed"`
	Method  string `json:"method,omitempty" toml:"method"`   // empty: the person says
	Product string `json:"product,omitempty" toml:"product"` // "bacon" or "meat"; empty: the person says

	// What was put on, of the green weight, for the centre in its own units. Zero: not said.
	SaltPct    float64 `json:"salt_pct,omitempty" toml:"salt_pct"`       // all salt, %
	NitritePPM float64 `json:"nitrite_ppm,omitempty" toml:"nitrite_ppm"` // ingoing
}

// TurnRule says how often the slabs are turned.
type TurnRule struct {
	EveryHours float64 `json:"every_h" toml:"every_h"` // prompt after
	LimitHours float64 `json:"limit_h" toml:"limit_h"` // quality line on the record after
	Rule       string  `json:"rule" toml:"rule"`
	Source     string  `json:"source" toml:"source"`
}

// ColdRule limits the time above a temperature, summed over the cold stages.
type ColdRule struct {
	AboveC       float64 `json:"above_c" toml:"above_c"`
	LimitMinutes float64 `json:"limit_min" toml:"limit_min"`
	Rule         string  `json:"rule" toml:"rule"`
	Source       string  `json:"source" toml:"source"`
}

// ComeUpRule limits the time the core spends between two temperatures.
type ComeUpRule struct {
	FromC      float64 `json:"from_c" toml:"from_c"`
	ToC        float64 `json:"to_c" toml:"to_c"`
	LimitHours float64 `json:"limit_h" toml:"limit_h"`
	Rule       string  `json:"rule" toml:"rule"`
	Source     string  `json:"source" toml:"source"`
}

// LethalityRule names a published time-temperature table in process/rules.
type LethalityRule struct {
	Table  string `json:"table,omitempty" toml:"table"`
	Rule   string `json:"rule,omitempty" toml:"rule"`
	Source string `json:"source,omitempty" toml:"source"`
}

// ChillRule names a stabilisation option in process/rules.
type ChillRule struct {
	Option string `json:"option" toml:"option"`
	Rule   string `json:"rule" toml:"rule"`
	Source string `json:"source" toml:"source"`
}
