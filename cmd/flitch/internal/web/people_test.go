package web

import (
	"net/http"
	"strings"
	"testing"

	"flitch/process"
	"flitch/process/record"
)

// What is to be done next is not also a line of the stage above it.
func TestNothingIsSaidTwiceOnTheGlance(t *testing.T) {
	h := sampleHouse()
	h.glances[0].Next = &Task{What: h.glances[0].Stage.Prompt, Kind: process.CommandStage}
	if n := strings.Count(get(t, h.page(t, record.Site{}), "/batches/OL-31-09/glance").Body.String(), "Add wood each hour."); n != 1 {
		t.Errorf("it stands there %d times", n)
	}
	h.glances[0].Next = nil
	has(t, get(t, h.page(t, record.Site{}), "/batches/OL-31-09/glance").Body.String(), "Add wood each hour.")
}

// A doubt of the core, in K, and the limits of a check follow the degrees of the browser.
func TestDifferencesFollowTheDegrees(t *testing.T) {
	h := sampleHouse()
	h.glances[0].Clocks[2].Uncertain = []string{"core of piece A, read 0.5 K low for the probe's uncertainty"}
	h.probes = []Probe{{Probe: "core-1", Place: "old-kettle", Placement: process.Core}}
	for site, want := range map[record.Site][3]string{{}: {"read 0.5 K low", "Within 1.1 K it passes", "up to 0.9 K"}, {Fahrenheit: true}: {"read 0.9 °F low", "Within 2.0 °F it passes", "up to 1.6 °F"}} {
		p := h.page(t, site)
		has(t, get(t, p, "/batches/OL-31-09/glance").Body.String(), want[0])
		has(t, get(t, p, "/probes/core-1").Body.String(), want[1], want[2])
	}
}

// Rules of a plan, which are written in °C, follow the degrees too; what names both stays.
func TestRulesFollowTheDegrees(t *testing.T) {
	s := newServer(Deps{Site: record.Site{Fahrenheit: true}})
	for rule, want := range map[string]string{
		"slow chill: 54.4 to 26.7 °C in 5 h, 26.7 to 7.2 °C in 10 h": "slow chill: 129.9 to 80.1 °F in 5 h, 80.1 to 45 °F in 10 h",
		"7 days at 4 °C by the rule you chose":                       "7 days at 39.2 °F by the rule you chose",
		"not over 6 h between 10 and 54.4 °C (50 and 130 °F)":        "not over 6 h between 10 and 54.4 °C (50 and 130 °F)",
		"not over 2 h above 4.4 °C (40 °F)":                          "not over 2 h above 4.4 °C (40 °F)",
	} {
		if got := s.degreed(rule); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
	h := sampleHouse()
	h.papers = []BatchPapers{{Summary: Summary{ID: "OL-31-04", Started: night, Closed: night}, Clocks: []process.Clock{{Name: process.ClockKeep, Rule: "in the piece at 4 °C: a week"}}}}
	has(t, get(t, h.page(t, record.Site{Fahrenheit: true}), "/batches/OL-31-04/papers").Body.String(), "in the piece at 39.2 °F: a week")
}

// At a field of the page, what to type instead is what goes into that field.
func TestWhatToTypeIsForTheField(t *testing.T) {
	h := sampleHouse()
	body := get(t, h.page(t, record.Site{}), "/reckon/boiling-point?altitude=99999999m").Body.String()
	has(t, body, "Type: 500m")
	if strings.Contains(body, "Type: altitude=") {
		t.Error("the word of the command stands at the field")
	}
}

// A code that leads to the machine it is opened on is of no use on a bag, and that is said
// before it is printed.
func TestALabelSaysThatItsCodeLeadsNowhere(t *testing.T) {
	for link, want := range map[string]bool{"http://127.0.0.1:8411/batches/X": true, "http://[::1]:8411/x": true, "http://localhost/x": true,
		"http://smokehouse.lan:8411/x": false, "https://192.168.1.20/x": false, "%": false} {
		if alone(link) != want {
			t.Errorf("%s: %t", link, !want)
		}
	}
	h := sampleHouse()
	h.address, h.work.ID = "http://127.0.0.1:8411", "OL-31-09"
	w := get(t, h.page(t, record.Site{}), "/batches/OL-31-09/labels")
	if w.Code != http.StatusOK {
		t.Fatal(w.Code)
	}
	has(t, w.Body.String(), "leads nowhere from a phone")
	h.address = "https://smokehouse.lan"
	if strings.Contains(get(t, h.page(t, record.Site{}), "/batches/OL-31-09/labels").Body.String(), "leads nowhere") {
		t.Error("a good address is warned of")
	}
}

// Places have the names people read, and limits the words they were chosen by.
func TestNamesForPeople(t *testing.T) {
	c := Choices{Fridges: []PlaceName{{Name: "alder", Title: "Fridge Alder"}}, Smokers: []PlaceName{{Name: "kettle", Title: "Old Kettle"}}}
	for name, want := range map[string]string{"alder": "Fridge Alder", "kettle": "Old Kettle", "gone": "gone", "": ""} {
		if got := titled(c, name); got != want {
			t.Errorf("%q: %q", name, got)
		}
	}
	if got := ruled("us"); got != "us (United States)" {
		t.Error(got)
	}
	if got := ruled("x"); got != "x" {
		t.Error(got)
	}
}
