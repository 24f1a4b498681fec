package main

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

const rehearsed = `begins 2031-04-07T20:00:00Z
zone Europe/Vienna
plan belly-dry-cured
piece A 2268g 38mm
fridge alder
probe slow product in alder every 1m

from 20:00 to 21:00 slow hold 8C

`

func rehearseText(t *testing.T, text string, flags ...string) (code int, out, complaint string) {
	t.Helper()
	file := filepath.Join(t.TempDir(), "night.txt")
	if err := os.WriteFile(file, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	var stdout, stderr bytes.Buffer
	code = execute(append([]string{"rehearse", file}, flags...), terminal{out: &stdout, err: &stderr})
	return code, stdout.String(), stderr.String()
}

func TestRehearse(t *testing.T) {
	code, out, complaint := rehearseText(t, rehearsed+"expect C2 ring\n")
	if code != exitFine || complaint != "" {
		t.Errorf("code %d, %s", code, complaint)
	}
	for _, want := range []string{"22:20  ┌ RING Fridge too warm: alder", "└ Product sensor 8.0 °C", "CEST", "explained by C2", "out-of-cold", "met"} {
		if !strings.Contains(out, want) {
			t.Errorf("%q is not in\n%s", want, out)
		}
	}
	if code, out, complaint := rehearseText(t, rehearsed+"expect no C2\n"); code != exitProblem || !strings.Contains(out, "NOT MET") || !strings.Contains(complaint, "1 of 1 expectations not met") {
		t.Errorf("code %d, %s%s", code, out, complaint)
	}
}

func TestRehearseAsJSON(t *testing.T) {
	code, out, _ := rehearseText(t, rehearsed+"expect no C2\n", "--json")
	var report struct {
		Phone []struct {
			Entry, First, Second string
		}
		Unmet int
	}
	if err := json.Unmarshal([]byte(out), &report); err != nil || code != exitProblem {
		t.Fatalf("code %d, %v: %s", code, err, out)
	}
	if report.Unmet != 1 || len(report.Phone) == 0 || report.Phone[0].Entry != "C2" {
		t.Errorf("%+v", report)
	}
}

func TestRehearseComplains(t *testing.T) {
	for text, want := range map[string]string{
		rehearsed + "expect nonsense":                             "line 10:",
		strings.Replace(rehearsed, "Europe/Vienna", "Moon", 1):    "zone Moon",
		strings.Replace(rehearsed, "belly-dry-cured", "pizza", 1): "plan pizza",
	} {
		if code, _, complaint := rehearseText(t, text); code != exitProblem || !strings.Contains(complaint, want) {
			t.Errorf("code %d, %s, want %s", code, complaint, want)
		}
	}
	if code, out, _ := rehearseText(t, " "+rehearsed, "--format"); code != exitFine || out != strings.TrimSuffix(rehearsed, "\n") {
		t.Errorf("code %d, %s", code, out)
	}
}

const rehearsedHouse = `[site]
name = "Oddwick Lane Larder"
zone = "Europe/Vienna"
units = "F"
[page]
listen = "127.0.0.1:8411"
[broker]
mode = "embedded"
listen = "127.0.0.1:1883"
anonymous = true
[[place]]
name = "alder"
kind = "fridge"
[[place.alarm]]
id = "C2"
trigger = 2
after = "5m"
[[probe]]
name = "slow"
place = "alder"
measures = "product"
topic = "alder/slow"
unit = "C"
interval = "1m"
[[channel]]
name = "mo-phone"
kind = "http"
url = "http://127.0.0.1:9/mo"
[[channel]]
name = "tv-phone"
kind = "http"
url = "http://127.0.0.1:9/tv"
[[person]]
name = "Marta Oldroyd"
initials = "M.O."
channels = ["mo-phone"]
quiet = "21:00-06:30"
[[person]]
name = "Tom Vail"
initials = "T.V."
channels = ["tv-phone"]
`

// The limits, the people and the units of a configuration, and who is told by what.
func TestRehearseInAHouse(t *testing.T) {
	file := filepath.Join(t.TempDir(), "flitch.toml")
	if err := os.WriteFile(file, []byte(rehearsedHouse), 0o600); err != nil {
		t.Fatal(err)
	}
	night := rehearsed + "from 21:00 to 23:00 slow hold 3C\n\nexpect 20:04..20:06 C2 ring\n"
	code, out, complaint := rehearseText(t, night, "--config", file)
	if code != exitFine || complaint != "" {
		t.Errorf("code %d, %s", code, complaint)
	}
	for _, want := range []string{"22:05  ┌ RING Fridge too warm: alder   → M.O., by mo-phone", "22:15  ┌ RING Fridge too warm: alder   → T.V., by tv-phone", "Product sensor 46.4 °F"} {
		if !strings.Contains(out, want) {
			t.Errorf("%q is not in\n%s", want, out)
		}
	}
	if code, out, _ := rehearseText(t, rehearsed+"expect C2 ring\n"); code != exitFine || !strings.Contains(out, "22:20  ┌ RING Fridge too warm: alder   → phone") {
		t.Errorf("without a house: code %d\n%s", code, out)
	}
	if code, _, complaint := rehearseText(t, strings.ReplaceAll(night, "alder", "birch"), "--config", file); code != exitProblem || !strings.Contains(complaint, "has no fridge birch") {
		t.Errorf("in a place that is not there: code %d, %s", code, complaint)
	}
	if code, _, complaint := rehearseText(t, night, "--config", file+"x"); code != exitProblem || !strings.Contains(complaint, "there is no "+file+"x") {
		t.Errorf("no such house: code %d, %s", code, complaint)
	}
}
