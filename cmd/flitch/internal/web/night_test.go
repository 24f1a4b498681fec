package web

import (
	"strings"
	"testing"
	"time"

	"flitch/process/record"
)

func TestThePageSaysWhoHasTheNight(t *testing.T) {
	h := sampleHouse()
	for _, c := range []struct {
		night Night
		says  []string
		not   string
	}{
		{Night{}, []string{"names no persons"}, "I have the night"},
		{Night{Persons: []string{"T.V.", "M.O."}}, []string{"Rings go first to the first of T.V., M.O.", "I have the night"}, "has it, until"},
		{Night{Persons: []string{"T.V."}, By: "T.V.", Until: night.Add(4 * time.Hour)}, []string{"T.V. has it, until 07:31"}, "Rings go first"},
		{Night{Shelves: []Shelved{{"C1", "fridge alder", "T.V.", "warm <load>", night.Add(time.Hour), false}, {"B2", "fridge birch", "M.O.", "new seal", night.Add(48 * time.Hour), true}}},
			[]string{"C1, fridge alder</strong>: on the shelf until 04:31", "T.V.: warm &lt;load&gt;", "B2, fridge birch</strong>: out of service until", "M.O.: new seal"}, "I have it"},
	} {
		h.night = c.night
		text := strings.Join(strings.Fields(get(t, h.page(t, record.Site{}), "/batches").Body.String()), " ")
		for _, says := range c.says {
			if !strings.Contains(text, says) {
				t.Errorf("%+v: the page does not say %q", c.night, says)
			}
		}
		if strings.Contains(text, c.not) {
			t.Errorf("%+v: the page says %q", c.night, c.not)
		}
	}
}
