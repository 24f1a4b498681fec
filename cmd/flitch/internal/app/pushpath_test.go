package app

import (
	"net/http"
	"slices"
	"strings"
	"testing"
)

// The push service is away, and with it all phones of the channel: one alarm, told once
// the other way.
func TestThreePhonesThatFailTogetherAreOneAlarm(t *testing.T) {
	s, service := pushShop(t)
	for _, name := range []string{"grey", "red", "blue"} {
		s.addPhone(service, name)
		service.Answer(name, http.StatusServiceUnavailable)
	}
	s.begin(raw)
	s.fridgeWarm(0, 40*minute)
	raised := slices.DeleteFunc(s.phone.heard(), func(h string) bool { return !strings.HasPrefix(h, "B7 raised") })
	if len(raised) != 1 {
		t.Errorf("the other way heard %q, want one", raised)
	}
	var alarms []string
	all, err := (&reader{app: s.app}).Alarms(s.patience())
	if err != nil {
		t.Fatal(err)
	}
	for _, a := range all {
		if a.Entry == "B7" {
			alarms = append(alarms, a.Subject)
		}
	}
	if !slices.Equal(alarms, []string{"phone path push"}) {
		t.Errorf("alarms of the paths: %q", alarms)
	}
}
