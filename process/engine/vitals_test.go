package engine

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"flitch/alerts"
	"flitch/process"
)

// B4: a battery is told once a day, until somebody answers; it is over only when it is
// clearly over its limit again.
func TestStoryOfALowBattery(t *testing.T) {
	slow := process.PlacedProbe{Probe: "alder-slow", Place: "alder", Placement: process.Product, Interval: time.Minute}
	place := process.NewPlace("alder", process.WhereFridge, []process.PlacedProbe{slow}, ten)
	policy := alerts.Policy{Channels: []alerts.ChannelPolicy{{Name: "phone", Minimum: alerts.Tell}}}
	h := &doseHouse{House: NewHouse([]*process.Place{place}, alerts.Catalogue(alerts.Electric), policy), t: t, now: ten}
	told := func(percent float64) string {
		h.told = nil
		h.said++
		c := process.Command{ID: fmt.Sprint(h.said), Kind: process.CommandVital, By: "flitch", At: h.now, Typed: h.now,
			Vital: &process.Vital{Probe: "alder-slow", Kind: process.VitalBattery, Value: percent, Low: 20, Unit: "%"}}
		h.take(process.Input{Kind: process.InputCommand, At: h.now, Command: c})
		h.minutes(24 * 60)
		var kinds []string
		for _, m := range h.told {
			kinds = append(kinds, fmt.Sprintf("%s %s %s", m.Entry, m.Kind, m.Level))
		}
		return strings.Join(kinds, ", ")
	}
	if got := told(21); got != "" {
		t.Errorf("over its limit, and told %s", got)
	}
	if got := told(17); got != "B4 raised tell, B4 repeated tell" {
		t.Errorf("low: told %s", got)
	}
	if body := h.told[0].Body; !strings.Contains(body, "Battery 17 %, limit 20 %: at or under") || !strings.Contains(body, "Do first: Change the battery") {
		t.Errorf("message:\n%s", body)
	}
	if got := told(22); got != "B4 repeated tell" {
		t.Errorf("not clearly over its limit: told %s", got)
	}
	if got := told(97); got != "B4 cleared tell" {
		t.Errorf("a new battery: told %s", got)
	}
}
