package rules

import "testing"

func TestEveryHumidityOptionIsWhole(t *testing.T) {
	for _, id := range HumidityNames() {
		h, ok := Humidity(id)
		if !ok || h.Source == "" || h.Note == "" || h.Provenance != "seen" && h.Provenance != "memory" {
			t.Errorf("%s: not whole: %+v", id, h)
		}
		if h.LeastShare < 0 || h.LeastShare > 1 || h.LeastHours <= 0 && !h.WholeCook || h.WholeCook != (h.LeastShare == 1) {
			t.Errorf("%s: asks for no time, or for more than all: %+v", id, h)
		}
		if byPerson := h.LeastRH == 0 && h.LeastWetBulbC == 0; byPerson != (id == "steam" || id == "sealed") {
			t.Errorf("%s: said by a person is %v", id, byPerson)
		}
	}
	if h, ok := Humidity("dry"); ok {
		t.Errorf("an unknown option: %+v", h)
	}
}

func TestBrokenHumidityIsAnError(t *testing.T) {
	for _, bad := range []map[string]string{
		{"whole_cook": "perhaps"}, {}, {"whole_cook": "no", "least_hours": "1 h"}, {"whole_cook": "yes", "endpoint_f": ">=145"},
	} {
		if h, err := humidity(bad); err == nil {
			t.Errorf("%v read as %+v", bad, h)
		}
	}
}

func TestHumidityDoesNotAllocate(t *testing.T) {
	if n := testing.AllocsPerRun(100, func() { Humidity("jerky-wet-bulb") }); n != 0 {
		t.Errorf("%v allocations per look-up, want 0", n)
	}
}
