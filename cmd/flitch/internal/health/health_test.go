package health

import (
	"slices"
	"testing"
)

func TestAFaultIsToldOnceAndEndsOnce(t *testing.T) {
	var told []string
	f := Faults{Changed: func(part, text string) { told = append(told, part+"="+text) }}
	f.Clear("disk")
	f.Set("disk", "full")
	f.Set("disk", "still full")
	f.Set("broker", "away")
	if got := f.List(); !slices.Equal(got, []Fault{{"broker", "away"}, {"disk", "still full"}}) {
		t.Errorf("list %v", got)
	}
	f.Clear("disk")
	f.Clear("disk")
	if want := []string{"disk=full", "broker=away", "disk="}; !slices.Equal(told, want) {
		t.Errorf("told %v, want %v", told, want)
	}
}
