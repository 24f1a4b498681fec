package signal

import (
	"math"
	"strings"
	"testing"
)

func TestCheck(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	for _, c := range []struct {
		placement string
		value     float64
		missing   []float64
		want      string // start of the reason; "" is valid
	}{
		{"product", 3.9, nil, ""},
		{"core", nan, nil, "not a number"},
		{"weight", inf, nil, "not a number"},
		{"chamber", -inf, nil, "not a number"},
		// One-wire constants: -127 is "device disconnected", 85 the power-up value.
		{"product", -127, nil, "-127 °C: one-wire sensor not connected"},
		{"chamber", -127, nil, "-127 °C: one-wire sensor not connected"},
		{"core", (-196.6 - 32) * 5 / 9, nil, "-127 °C: one-wire sensor not connected"}, // sent in °F
		{"product", 85, nil, "85 °C: one-wire sensor has just started"},
		{"air", 85, nil, "85 °C: one-wire sensor has just started"},
		{"ambient", (185.0 - 32) * 5 / 9, nil, "85 °C: one-wire sensor has just started"},
		{"chamber", 85, nil, ""}, // 185 °F is an ordinary smoker setting
		{"core", 85, nil, ""},
		{"product", 84.9, nil, "84.9 is outside -40 to 60 °C for a product probe"},
		{"chamber", 327.67, nil, "327.67 °C: full scale"},
		{"core", -327.67, nil, "-327.67 °C: full scale"},
		{"core", 999.9, nil, "999.9 °C: no sensor"},
		{"weight", 999.9, nil, ""}, // grams
		{"humidity", 85, nil, ""},
		{"chamber", 300, []float64{300, 302, 304}, "300 means no measurement for this probe"},
		{"chamber", 301, []float64{300, 302, 304}, ""},
		{"weight", -1, []float64{-1}, "-1 means no measurement for this probe"},
		// Both ends of each range belong to it.
		{"core", -30, nil, ""}, {"core", -30.1, nil, "-30.1 is outside -30 to 130 °C for a core probe"},
		{"core", 130, nil, ""}, {"core", 130.1, nil, "130.1 is outside"},
		{"chamber", -30, nil, ""}, {"chamber", -30.1, nil, "-30.1 is outside"},
		{"chamber", 350, nil, ""}, {"chamber", 350.1, nil, "350.1 is outside"},
		{"product", -40, nil, ""}, {"product", -40.1, nil, "-40.1 is outside"},
		{"air", 60, nil, ""}, {"air", 60.1, nil, "60.1 is outside"},
		{"wet-bulb", 110, nil, ""}, {"wet-bulb", 111, nil, "111 is outside"},
		{"humidity", 0, nil, ""}, {"humidity", -0.1, nil, "-0.1 is outside 0 to 100 % for a humidity probe"},
		{"humidity", 100, nil, ""}, {"humidity", 100.1, nil, "100.1 is outside"},
		{"door", 1, nil, ""}, {"door", 2, nil, "2 is outside"},
		{"power", 2400, nil, ""},
	} {
		reason, ok := Check(c.value, c.placement, c.missing...)
		if ok != (c.want == "") || !strings.HasPrefix(reason, c.want) || ok && reason != "" {
			t.Errorf("%s %v: %q %t, want %q", c.placement, c.value, reason, ok, c.want)
		}
	}
}
