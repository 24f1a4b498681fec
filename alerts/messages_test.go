package alerts

import (
	"flag"
	"fmt"
	"os"
	"strings"
	"testing"
	"time"
	"unicode/utf8"
)

var update = flag.Bool("update", false, "write testdata/messages.txt anew; read the difference")

// A told is how one alarm of the catalogue comes in real life: what it is about, the
// values at its triggers and after it, and what the engine says was measured, with °C and
// K in braces.
type told struct {
	about   string
	values  []float64
	after   float64
	now     string
	details []string
}

const (
	fridge = "fridge alder"
	batch  = "batch OL-31-04"
	core   = "probe core-1 of batch OL-31-04"
	bottle = "probe alder-bottle of fridge alder"
	chillA = "chill A of batch OL-31-04"
)

var inRealLife = map[string]told{
	"C1":   {fridge, []float64{4.8}, 3.8, "", nil},
	"C2":   {fridge, []float64{5.6, 7.9}, 4.1, "", nil},
	"C3":   {fridge, []float64{1}, 0, "air {9.3 °C}, the product by it about {5.2 °C}", nil},
	"C4":   {fridge, []float64{0.8}, 1.9, "", nil},
	"C5":   {fridge, []float64{-2.1}, -0.2, "", nil},
	"C6":   {fridge, []float64{3, 10}, 0, "product {4.1 °C}, air {8.8 °C}", nil},
	"C7":   {fridge, []float64{2}, 0, "air {9.3 °C}", nil},
	"C7r":  {fridge, []float64{6}, 0.4, "air {6.1 °C}", nil},
	"C8":   {"freezer chest", []float64{-8.2}, -13, "", nil},
	"C9":   {batch, []float64{11}, 0, "humidity 91 %, band 70 to 80 %", nil},
	"K1":   {batch, []float64{24, 36}, 0.1, "", nil},
	"K2":   {batch, []float64{48}, 0.1, "", nil},
	"K3":   {batch, []float64{22, 0, -72}, 40, "", nil},
	"K4":   {"piece A of batch OL-31-04", []float64{1, 2}, 0, "57 g weighed, 5.661 g asked, 1571 ppm", []string{"Slip of the pen or the scale held: ten times: a decimal point has slipped."}},
	"H1":   {batch, []float64{57, 1000}, -30, "chamber {161 °C}, set point {71 °C}", nil},
	"H2":   {batch, []float64{18}, 6, "chamber {89 °C}, set point {71 °C}", nil},
	"H3":   {batch, []float64{24}, 6, "chamber {47 °C}, set point {71 °C}", nil},
	"H4":   {batch, []float64{8}, 20, "chamber {26 °C}, room {18 °C}", nil},
	"H5":   {batch, []float64{45}, 12, "core {64.1 °C}, chamber {75 °C}", nil},
	"H6":   {batch, []float64{4, 5}, 5, "core {41 °C}, chamber {62 °C}", nil},
	"H7":   {batch, []float64{2.7}, 8, "core {63.3 °C}, target {66 °C}", nil},
	"H8":   {batch, []float64{1}, 0, "core {66.2 °C}, target {66 °C}", nil},
	"H9":   {batch, []float64{4.6}, 1, "core {70.6 °C}, target {66 °C}", nil},
	"H10":  {core, []float64{2.6}, 0, "core {58.2 °C}, chamber {71 °C}", nil},
	"H11":  {core, []float64{1}, 0, "reads {63.1 °C}, was {55 °C} before 02:59 CET, chamber {71 °C}", nil},
	"H12":  {batch, []float64{14.5}, 8, "core-2 {62 °C}, core-1 {47.5 °C}", nil},
	"H13":  {batch, []float64{3, 100}, 0, "wet bulb {48 °C}, the plan asks {51.7 °C}", nil},
	"H14":  {batch, []float64{33.4}, 28, "", nil},
	"H15":  {batch, []float64{1}, 0, "", nil},
	"L1":   {chillA, []float64{30}, 0, "core {58.2 °C}", nil},
	"L2":   {chillA, []float64{35, 1440}, -20, "core {41 °C}, to be at {26.7 °C} by 03:10 CET", nil},
	"L3":   {chillA, []float64{0.1}, 0, "core {31 °C}, to be at {26.7 °C} by 02:59 CET", nil},
	"L4":   {batch, []float64{1}, 0, "", nil},
	"L5":   {batch, []float64{3, 0}, 0, "", nil},
	"B1":   {core, []float64{0}, -5, "last heard at 02:55 CET with {61.4 °C}", nil},
	"B2":   {bottle, []float64{30, 120}, 1, "last heard at 01:00 CET with {3.9 °C}", nil},
	"B2u":  {bottle, []float64{1}, 0, "read {3.8 °C}, and now {38.8 °C}: the step that another unit makes", nil},
	"B3":   {core, []float64{20}, 0, "core {54.3 °C}, chamber {71 °C}", nil},
	"B3f":  {bottle, []float64{6}, 0, "reads {3.5 °C}", nil},
	"B4":   {bottle, []float64{-3}, 8, "battery 17 %, limit 20 %", nil},
	"B4s":  {bottle, []float64{-3}, 8, "signal -93 dBm, limit -90 dBm", nil},
	"B1g":  {core, []float64{1.3}, -1, "last heard at 02:57 CET with {61.4 °C}", []string{"What was heard: its connection broke (Homie $state lost)."}},
	"B2g":  {bottle, []float64{2, 120}, -1, "last heard at 00:59 CET with {3.9 °C}", []string{"What was heard: its node is gone (Sparkplug NDEATH)."}},
	"B4a":  {bottle, []float64{1}, 0, "", []string{`It says: "Battery is low, at 8%".`}},
	"B5":   {fridge, []float64{2, 120}, 0, "product {3.9 °C}, air {4.4 °C}", nil},
	"B5l":  {fridge, []float64{26}, 0, "", nil},
	"B6":   {core, []float64{1}, 0, "", nil},
	"B6m":  {"this machine's clock", []float64{1}, 0, "", []string{"It stepped from 2031-02-05 03:00 +01:00 to 2031-02-05 04:00 +01:00 (1 h ahead), and flitch with it: that hour is a gap."}},
	"B7d":  {"client id fridge-board", []float64{5}, 0, "", nil},
	"B7":   {"phone path marta-phone", []float64{5}, 0, "", nil},
	"B7c":  {"page certificate", []float64{0}, 0, "", []string{"Its last day is Sun 3 Aug 2031; then phones open the page no more, and cannot answer by its links."}},
	"B7b":  {"database", []float64{60}, 0, "", nil},
	"B7k":  {"record key", []float64{60}, 0, "", nil},
	"B7f":  {"fleet", []float64{60}, 0, "", nil},
	"B8":   {batch, []float64{10, 25, 40}, 0, "", nil},
	"B9":   {bottle, []float64{0, 10000}, -30, "", []string{"Last good check: 2031-01-05 by M.O."}},
	"B9d":  {"probes top and bottom of fridge alder", []float64{0.7}, 0, "top {3.4 °C}, bottom {4.5 °C}", []string{"top: Last good check: 2031-01-05 by M.O."}},
	"B10":  {"disk", []float64{1}, 0, "", nil},
	"B10s": {"slow disk", []float64{1}, 0, "", nil},
	"B10d": {"database file", []float64{1}, 0, "", nil},
}

// night is when the messages are sent: three in the morning.
var night = time.Date(2031, 2, 5, 2, 0, 0, 0, time.UTC)

// spoken are the messages of one entry: each trigger, asked again, and over.
func spoken(t *testing.T, p Policy, e Entry) (messages []Message) {
	t.Helper()
	like, ok := inRealLife[e.ID]
	if !ok {
		t.Fatalf("%s has no example: add one, and read what it says", e.ID)
	}
	near := Surroundings{Now: p.fill(e, like.now, Event{}), Details: like.details}
	var a *Alarm
	number := int64(16)
	next := func() int64 { number++; return number }
	var last Event
	for n, v := range like.values {
		i := min(n, len(e.Triggers)-1)
		a = primed(e)
		a.raise(e, Signal{Subject: like.about, At: night, Value: v}, i, false, next())
		a.Latest.Since, a.Latest.Worst = a.Latest.Since.Add(-e.Triggers[i].For), v
		last = a.event(e, Raised, night, a.reason(e))
		if e.never(v) {
			near.Now = ""
		}
		messages = append(messages, p.letter(e, last, near))
	}
	a.Repeats++
	again := a.ask(e, Repeated, night.Add(max(e.Repeat, time.Minute)), "nobody has acknowledged")
	over := last
	over.Kind, over.At, over.Value, over.Reason = Cleared, night.Add(90*time.Minute), like.after, backInside
	return append(messages, p.letter(e, again, near), p.letter(e, over, near))
}

// primed is an alarm whose condition begins now.
func primed(e Entry) *Alarm {
	a := &Alarm{}
	a.Condition.Triggers = make([]Sustained, len(e.Triggers))
	for i := range a.Condition.Triggers {
		a.Condition.Triggers[i].Since = night
	}
	return a
}

func vienna(t *testing.T) *time.Location {
	t.Helper()
	zone, err := time.LoadLocation("Europe/Vienna")
	if err != nil {
		t.Fatal(err)
	}
	return zone
}

// Every message of the catalogue, to be read as somebody who was just woken.
func TestEveryMessageOfTheCatalogue(t *testing.T) {
	p := Policy{Location: vienna(t), Link: "https://larder.example"}
	warm := p
	warm.Fahrenheit = true
	var out strings.Builder
	for _, e := range Catalogue(Wood) {
		imperial := spoken(t, warm, e)
		for i, m := range spoken(t, p, e) {
			fmt.Fprintf(&out, "%s %s\n%s\n%s\n", e.ID, m.Level, m.Subject, m.Body)
			if in := imperial[i]; in.Body != m.Body {
				first, _, _ := strings.Cut(in.Body, "\n")
				fmt.Fprintf(&out, "in °F: %s\n", first)
			}
			out.WriteByte('\n')
		}
	}
	const golden = "testdata/messages.txt"
	if *update {
		if err := os.WriteFile(golden, []byte(out.String()), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(golden)
	if err != nil {
		t.Fatal(err)
	}
	if string(want) != out.String() {
		t.Errorf("the messages differ from %s: go test ./alerts -run EveryMessage -update, and read the difference", golden)
	}
}

// A lock screen shows 40 to 50 characters of a title; and no text has a stop after a
// stop, a blank, or a kelvin.
func TestMessagesFitALockedPhone(t *testing.T) {
	for _, fahrenheit := range []bool{false, true} {
		p := Policy{Location: vienna(t), Fahrenheit: fahrenheit}
		for _, e := range Catalogue(Wood) {
			for _, m := range spoken(t, p, e) {
				if n := utf8.RuneCountInString(m.Subject); n > 50 && m.Level > Note { // a note is sent to nobody
					t.Errorf("%s: %d characters: %s", e.ID, n, m.Subject)
				}
				text := m.Subject + "\n" + m.Body
				for _, bad := range []string{"..", "{", "}", "0 K", "5 K", "  ", ": :", ", ,", "\n\n"} {
					if strings.Contains(text, bad) {
						t.Errorf("%s says %q:\n%s", e.ID, bad, text)
					}
				}
				if fahrenheit && strings.Contains(text, "°C") || !fahrenheit && strings.Contains(text, "°F") {
					t.Errorf("%s, °F %v:\n%s", e.ID, fahrenheit, text)
				}
				first, _, _ := strings.Cut(m.Body, "\n")
				if n := utf8.RuneCountInString(first); n > 170 {
					t.Errorf("%s: the second line has %d characters: %s", e.ID, n, first)
				}
			}
		}
	}
}

// chain is what one entry says, each message that its samples bring.
func chain(t *testing.T, p Policy, id string, minutes int, value func(minute int) float64) (bodies []string) {
	t.Helper()
	e, a, number := catalogued(t, id), &Alarm{}, int64(0)
	e.Zone = p.Location
	for m := range minutes {
		s := Signal{Subject: fridge, At: night.Add(time.Duration(m) * time.Minute), Value: value(m)}
		for _, ev := range Step(e, a, s, func() int64 { number++; return number }) {
			bodies = append(bodies, string(ev.Kind)+": "+p.letter(e, ev, Surroundings{}).Body)
		}
	}
	return bodies
}

// Three warm spells of 50 min: the sum is what rang, and not the time since the first.
func TestASumIsToldByItsSum(t *testing.T) {
	spells := func(minute int) float64 {
		if minute%360 < 50 {
			return 5.4
		}
		return 4
	}
	for unit, want := range map[bool]string{
		false: "raised: 2 h above 5.0 °C in 24 h (first at 03:00 CET); product sensor 5.4 °C with a batch inside, limit 5.0 °C.\n",
		true:  "raised: 2 h above 41.0 °F in 24 h (first at 03:00 CET); product sensor 41.7 °F with a batch inside, limit 41.0 °F.\n",
	} {
		p := Policy{Location: vienna(t), Fahrenheit: unit}
		bodies := chain(t, p, "C2", 13*60+30, spells)
		if len(bodies) < 3 || !strings.HasPrefix(bodies[0], want) {
			t.Errorf("%q, want %q", bodies, want)
		}
		if over := bodies[len(bodies)-1]; !strings.HasPrefix(over, "cleared: 2 h 30 min above ") || strings.Contains(over, "Lasted") {
			t.Errorf("over: %q", over)
		}
	}
}

// A door is open since it was opened, also when its measure stops short of ringing.
func TestADoorIsOpenSinceItWasOpened(t *testing.T) {
	bodies := chain(t, Policy{Location: vienna(t)}, "C6", 30, func(m int) float64 { return min(float64(m), 9.99) })
	if len(bodies) < 2 || !strings.HasPrefix(bodies[0], "raised: Open for 3 min, limit 3 min, since 03:00 CET.") ||
		!strings.HasPrefix(bodies[1], "repeated: Open for 13 min, limit 3 min, since 03:00 CET.") {
		t.Errorf("%q", bodies)
	}
}

// A difference is no temperature: 10 K more is 18 °F more, and never 50 °F.
func TestDifferencesAreNoTemperatures(t *testing.T) {
	for _, e := range Catalogue(Wood) {
		if e.Unit != "K" {
			continue
		}
		if e.Worst == "" {
			t.Errorf("%s: its worst value reads like a temperature", e.ID)
		}
		for _, c := range []struct {
			p    Policy
			want string
		}{{Policy{}, "10.0 °C"}, {Policy{Fahrenheit: true}, "18.0 °F"}} {
			ev := Event{Kind: Cleared, At: night.Add(time.Hour), Since: night, Value: 10, Worst: 10, Limit: 10, Reason: backInside}
			over := c.p.letter(e, ev, Surroundings{}).Body
			says := c.p.fill(e, e.Says, ev)
			line := c.p.oneLine(Waited{Occurrence: Occurrence{Title: e.Title, Unit: e.Unit, Worst: 10}, Words: e.Worst}, night)
			for _, text := range []string{over, says, line} {
				if !strings.Contains(text, c.want+" ") && e.ID != "H7" {
					t.Errorf("%s: want %s in %q", e.ID, c.want, text)
				}
				if strings.Contains(text, "50.0") {
					t.Errorf("%s: %q", e.ID, text)
				}
			}
		}
	}
}

// What a cure by the user's rule has left is told in days, and never as less than none.
func TestCureTimeIsToldInDays(t *testing.T) {
	p := Policy{Location: vienna(t)}
	bodies := chain(t, p, "K3", 104*60, func(m int) float64 { return 25 - float64(m)/60 })
	var first []string
	for _, b := range bodies {
		line, _, _ := strings.Cut(b, "\n")
		first = append(first, line)
	}
	want := []string{"raised: Ready tomorrow by your rule, 19 h to go.", "worsened: Ready today by your rule.",
		"worsened: Ready on Thu 6 Feb by your rule: 3 days 5 h over."}
	if strings.Join(first, "\n") != strings.Join(want, "\n") {
		t.Errorf("%q, want %q", first, want)
	}
}
