package sweep

// A row says what the forms of one action are given. To add a form to the page, add its row.
type row struct {
	action string // path; {} stands for one part of it

	good    map[string]string // by name of the field; a choice that is left out takes its first
	rubbish map[string]string // nil: there is nothing to type
	beside  string            // field whose message rubbish brings; empty: it is for the whole form
	forgets []string          // fields whose rubbish is not shown again

	wants string // CSS of what stands on the page after good input; empty: "Entered."
	each  bool   // every button of it is pressed, not one
	late  int    // it changes what the page offers: pressed after all with a lower number
	apart string // not pressed in the walk: the file of the tests that do
	anew  bool   // after it the daemon starts anew
}

const entered = `.result[role=status]`

// Initials that are too long are rubbish for any form that has nothing else to type.
var longName = map[string]string{"by": "nine char"}

var table = []row{
	{action: "/acknowledge", rubbish: longName, late: 1, beside: "by"},
	{action: "/turned", good: map[string]string{"when": "2031-07-16T19:00"}, rubbish: map[string]string{"by": "nine char", "when": "2031-07-16T19:00"}, beside: "by"},
	{action: "/stage", rubbish: longName, late: 1, beside: "by"},
	{action: "/close", rubbish: longName, late: 1, beside: "by"},
	{action: "/reading", good: map[string]string{"value": "3,4", "text": "needle 2"}, rubbish: map[string]string{"value": "warm", "text": "needle 2"}, beside: "value"},
	{action: "/note", good: map[string]string{"text": "smells of juniper"}, rubbish: map[string]string{"by": "nine char", "text": "smells of juniper"}, beside: "by"},
	{action: "/dosed", good: map[string]string{"value": "5.7", "asked": "156", "nitrite": "6.25", "rule": "us", "text": "weighed again"},
		rubbish: map[string]string{"value": "a spoon", "asked": "156", "nitrite": "6.25", "text": "<b>"}},
	{action: "/wood", rubbish: longName, beside: "by"},
	{action: "/quiet", rubbish: longName, late: 1, beside: "by"},
	{action: "/decide", apart: "cmd/flitch/internal/app/browserglance_test.go"}, // only after a fire was out
	{action: "/reckon/{}", apart: "cmd/flitch/internal/web/reckon_test.go"},     // nothing is entered by them; rows of their own are still to be written
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
	{action: "/sign-out", wants: `form[action="/sign-in"]`, late: 3},
}
