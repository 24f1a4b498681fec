package sweep

import (
	"slices"
	"strings"
	"testing"

	"flitch/cmd/flitch/internal/reckon"
)

// A row says what the forms of one action are given. To add a form to the page, add its row.
type row struct {
	action string // path; {} stands for one part of it
	button string // value of the button, or what stands on it; empty: any

	good    map[string]string // by name or id of the field; a choice that has to be made and is left out takes its first
	rubbish map[string]string // nil: there is nothing to type
	beside  string            // field whose message rubbish brings; empty: it is for the whole form
	forgets []string          // fields whose rubbish is not shown again

	wants string // CSS of what stands on the page after good input; empty: "Entered."
	then  []step // buttons pressed one after the other on the pages that follow
	each  bool   // every button of it is pressed, not one
	late  int    // it changes what the page offers: pressed after all with a lower number
	apart string // not pressed in the walk: the file of the tests that do
	anew  bool   // after it the daemon starts anew
}

// A step is a button on the page that a form led to.
type step struct{ button, wants string }

const entered = `.result[role=status]`

// Initials that are too long are rubbish for any form that has nothing else to type.
var longName = map[string]string{"by": "nine char"}

// A picture of one pixel, as a browser sends one, and a text that calls itself a picture.
const (
	onePixel = "slab.png;image/png;iVBORw0KGgoAAAANSUhEUgAAAAEAAAABCAYAAAAfFcSJAAAADUlEQVR42mNkYPhfDwAChwGA60e6kgAAAABJRU5ErkJggg=="
	noPhoto  = "slab.jpg;image/jpeg;bm8gcGhvdG8="
)

// A new batch as it is typed.
var newBatch = map[string]string{"weight-0": "2268", "thick-0": "38", "nitrite": "6.25", "ppm": "120", "rule": "us", "method": "dry", "product": "bacon"}

var table = []row{
	{action: "/acknowledge", rubbish: longName, beside: "by"},
	{action: "/turned", good: map[string]string{"when": "2031-07-16T19:00"}, rubbish: map[string]string{"by": "nine char", "when": "2031-07-16T19:00"}, beside: "by"},
	{action: "/stage", rubbish: longName, late: 1, beside: "by"},
	{action: "/close", rubbish: longName, late: 1, beside: "by"},
	{action: "/reading", good: map[string]string{"value": "3,4", "text": "needle 2"}, rubbish: map[string]string{"value": "warm", "text": "needle 2"}, beside: "value"},
	{action: "/note", good: map[string]string{"text": "smells of juniper"}, rubbish: map[string]string{"by": "nine char", "text": "smells of juniper"}, beside: "by"},
	{action: "/batches/new", button: "rows", wants: `#weight-4`},
	{action: "/batches/new", button: "review", good: newBatch, rubbish: map[string]string{"weight-0": "heavy", "ppm": "120", "nitrite": "6,25"}, beside: "weight-0", wants: `button[value=start]`,
		then: []step{{"back", `#weight-0[value="2268"]`}, {"review", `button[value=start]`}, {"start", entered}}, late: 1},
	{action: "/batches/{}/doses", good: map[string]string{"cure-A": "5.6", "cure-B": "5.8", "cure-C": "6.0", "text": "weighed again"}, rubbish: map[string]string{"cure": "a spoon", "text": "<b>"}, beside: "cure"},
	{action: "/batches/{}/weigh", good: map[string]string{"all": "2100"}, rubbish: map[string]string{"all": "heavy", "text": "needle scale"}, beside: "all"},
	{action: "/batches/{}/count", good: map[string]string{"count": "3"}, rubbish: map[string]string{"count": "many"}, beside: "count"},
	{action: "/batches/{}/taste", good: map[string]string{"salt": "4", "next": "less smoke"}, rubbish: map[string]string{"by": "nine char", "next": "less smoke"}, beside: "by"},
	{action: "/batches/{}/entries/{}", button: "Put this in its place", good: map[string]string{"why": "typed twice"}, rubbish: map[string]string{"by": "nine char", "why": "typed twice"}, beside: "by"},
	{action: "/batches/{}/entries/{}", button: "Strike it out", good: map[string]string{"why": "another batch"}, rubbish: map[string]string{"by": "nine char", "why": "another batch"}, beside: "by"},
	{action: "/batches/{}/papers/action", good: map[string]string{"about": "C1", "cause": "the door stood open", "control": "closed it"}, rubbish: map[string]string{"about": "", "cause": "the door stood open"}, beside: "about"},
	{action: "/batches/{}/papers/disposition", good: map[string]string{"what": "continue and finish", "why": "cold again in time"}, rubbish: map[string]string{"what": "", "why": "cold again in time"}, beside: "what", late: 2},
	{action: "/batches/{}/papers/note", good: map[string]string{"text": "the cut face", "photo": onePixel}, rubbish: map[string]string{"text": "the cut face", "photo": noPhoto}, beside: "photo"},
	{action: "/batches/{}/papers/review", good: map[string]string{"by": "M.O."}, rubbish: map[string]string{"by": "nine char", "text": "read it"}, beside: "by", late: 1},
	{action: "/batches/{}/papers/close", good: map[string]string{"text": "given away"}, rubbish: map[string]string{"by": "nine char", "text": "given away"}, beside: "by", late: 3},
	{action: "/strike", good: map[string]string{"why": "pressed by mistake"}, rubbish: map[string]string{"by": "nine char", "why": "pressed by mistake"}, beside: "by"},
	{action: "/compare", wants: "table"},
	{action: "/wood", rubbish: longName, beside: "by"},
	{action: "/quiet", rubbish: longName, late: 1, beside: "by"},
	{action: "/decide", apart: "cmd/flitch/internal/app/browserglance_test.go"}, // only after a fire was out
	{action: "/unit", apart: "cmd/flitch/internal/web/forms_test.go"},
	{action: "/duty", good: map[string]string{"until": "07:00"}, rubbish: map[string]string{"by": "nine char", "until": "06:30"}, beside: "by"},
	{action: "/shelve", good: map[string]string{"text": "loading", "until": "23:00"}, rubbish: map[string]string{"by": "nine char", "text": "loading", "until": "23:00"}, beside: "by"},
	{action: "/judge", rubbish: longName, late: 1, beside: "by"},
	{action: "/degrees", wants: `[aria-pressed=true]`, each: true},
	{action: "/probes/{}", good: map[string]string{"ice": "0.3"}, rubbish: map[string]string{"ice": "cold", "boiling": "97,9"}, beside: "ice"},
	{action: "/phones/remove", apart: "cmd/flitch/internal/app/phones_test.go"},
	{action: "script:ring", apart: "cmd/flitch/internal/app/browserring_test.go"},
	{action: "/heard", good: map[string]string{"name": "core-9", "measures": "core", "place": "old-kettle", "unit": "C", "interval": "15s"},
		rubbish: map[string]string{"name": "Core 9", "measures": "core", "place": "old-kettle", "unit": "C", "interval": "often"}, late: 2, anew: true},
	{action: "/sign-in", apart: "cmd/flitch/internal/sweep/shop_test.go"},
	{action: "/sign-out", wants: `form[action="/sign-in"]`, late: 4},
	{action: "/batches/{}/cost", good: map[string]string{"belly": "72.10", "ends": "6"}, rubbish: map[string]string{"belly": "72,10", "bags": "4"}, beside: "belly"},
}

// Each calculator is asked its own example, and with one word where a value belongs.
func init() {
	for _, c := range reckon.Calculators() {
		good, first := map[string]string{}, ""
		for _, pair := range strings.Fields(c.Example) {
			key, text, _ := strings.Cut(pair, "=")
			good[key] = text
			choice := slices.ContainsFunc(c.Keys, func(k reckon.Key) bool { return k.Name == key && k.Read.Choices != nil })
			if first == "" && !choice {
				first = key
			}
		}
		table = append(table, row{action: "/reckon/" + c.Name, good: good, rubbish: map[string]string{first: "a bit <b>"}, beside: first, wants: "#answer"})
	}
}

// Rows are found by what they are about.
func TestRowsAreFound(t *testing.T) {
	for _, c := range []struct{ action, value, text, beside string }{
		{"/batches/OL-31-04/weigh", "", "Enter the weights", "all"}, {"/batches/new", "review", "Look it over", "weight-0"}, {"/batches/new", "rows", "More rows", ""},
		{"/batches/OL-31-04/entries/X", "", "Strike it out", "by"}, {"/reckon/dose", "", "Work it out", "green"},
	} {
		if r, ok := rowOf(button{Action: c.action, Value: c.value, Text: c.text}); !ok || r.beside != c.beside {
			t.Errorf("%+v: %+v, %t", c, r, ok)
		}
	}
	if r, ok := rowOf(button{Action: "/batches/new", Value: "start"}); ok {
		t.Errorf("a button without a row has %+v", r)
	}
}
