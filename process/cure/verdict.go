package cure

// Answer is what a check says about a dose, in the words of the house.
type Answer string

// The answers. Missing data never helps: what was not weighed is not met.
const (
	Met         Answer = "met"
	NotMet      Answer = "not met"
	NotMeasured Answer = "not measured"
	Held        Answer = "held" // something looks like a slip: a person must look
)

// A Check is one question about a dose, with the numbers it was decided on.
type Check struct {
	Name   string  `json:"name"`
	Answer Answer  `json:"answer"`
	Value  float64 `json:"value"` // what it is; 0 when not measured
	Limit  float64 `json:"limit"` // what it is compared with
	Unit   string  `json:"unit,omitempty"`
	Rule   string  `json:"rule"`
	Source string  `json:"source"`
	Hint   string  `json:"hint,omitempty"` // what to look at; empty when met
}

// Worst returns the answer that a row of checks comes to: not met before held
// before not measured before met. Nothing asked is not measured.
func Worst(checks []Check) Answer {
	order := [...]Answer{NotMet, Held, NotMeasured, Met}
	for _, a := range order {
		for _, c := range checks {
			if c.Answer == a {
				return a
			}
		}
	}
	return NotMeasured
}
