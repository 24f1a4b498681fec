package scenario

import (
	"strings"
	"testing"
)

// What is said of sensors, shelves and the night names what is wrong with it.
func TestProblemsOfWhatIsSaid(t *testing.T) {
	for line, want := range map[string]string{
		"20:05 sensor nowhere gone": `no probe "nowhere"`, "20:05 sensor slow": "what it says is missing", "20:05 sensor slow dances": `no sensor says "dances"`,
		"20:05 sensor slow asks \" \"": "asks nothing", "20:05 sensor slow gone by M.O.": `"by" is too much`,
		"20:05 battery slow 14%": "is missing", "20:05 battery slow 14% low 2.8V": "two units", "20:05 battery slow -92dBm low -85dBm": "no battery",
		"20:05 signal slow 2V low 3V": "no signal", "20:05 battery slow 14 low 20": "has % or V",
		"20:05 duty": "is missing", "20:05 duty until 25:00": `"25:00" is not a time`, "20:05 duty until 2/07:00 typed 21:00": `"typed" is too much`,
		"20:05 shelved loading": "is no alarm", "20:05 shelved C1 until 21:00 \"x\"": `"until" where "of"`, "20:05 shelved C1 of alder until 21:00": "the reason is missing",
		"20:05 shelved C1 of alder \"x\"": "\"x\" where", "20:05 shelved C1 of alder until 21:00 \"\"": "no reason",
		"20:05 back broker until 21:00": `"until" is too much`, "20:05 lost broker until soon": "is not a time",
	} {
		if _, err := Parse(head + "\n" + line + "\n"); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v, want %q", line, err, want)
		}
	}
}
