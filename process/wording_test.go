package process

import (
	"strings"
	"testing"
)

// What is typed into a sealed record can be read, and has an end.
func TestWhatIsTypedCanBeRead(t *testing.T) {
	long := strings.Repeat("x", MostWords+1)
	for name, c := range map[string]struct {
		command Command
		want    string // of the refusal; empty: taken
	}{
		"initials":             {Command{By: "T.V."}, ""},
		"a name":               {Command{By: "Þóra Öskudóttir 東"}, ""},
		"lines and tabs":       {Command{By: "TV", Text: "one\r\ntwo\nthree\tfour 🔥"}, ""},
		"as long as may be":    {Command{By: strings.Repeat("x", MostSignature), Text: strings.Repeat("ö", MostWords)}, ""},
		"nobody":               {Command{By: " "}, "nobody signed"},
		"a zero byte":          {Command{By: "\x00\n"}, "cannot be read: type your initials"},
		"colours":              {Command{By: "\x1b[31mEV"}, "cannot be read"},
		"written backwards":    {Command{By: "\u202eVE"}, "cannot be read"},
		"two lines":            {Command{By: "a\nb"}, "cannot be read"},
		"initials not UTF-8":   {Command{By: "\xff"}, "cannot be read"},
		"initials without end": {Command{By: strings.Repeat("x", MostSignature+1)}, "longer than 64 bytes"},
		"a zero byte in words": {Command{By: "TV", Text: "a\x00b"}, "the text holds control characters"},
		"a carriage return":    {Command{By: "TV", Text: "a\rb"}, "the text holds control characters"},
		"words not UTF-8":      {Command{By: "TV", Text: "\xff\xfe"}, "the text is not UTF-8"},
		"words without end":    {Command{By: "TV", Text: long}, "more than 4000 characters"},
		"a reason":             {Command{By: "TV", Why: "\x1b[2J"}, "the reason holds"},
		"what is shelved":      {Command{By: "TV", Of: "a\x07"}, "the subject holds"},
		"a cause":              {Command{By: "TV", Action: &ActionSaid{About: "C2", Cause: "\x1b"}}, "the cause holds"},
		"about what":           {Command{By: "TV", Action: &ActionSaid{About: "\x1b"}}, "the subject holds"},
		"the product":          {Command{By: "TV", Action: &ActionSaid{Product: long}}, "the product has more"},
		"the next time":        {Command{By: "TV", Taste: &Taste{Next: "\x1b"}}, "the next time holds"},
		"a batch":              {Command{By: "TV", Batch: "a\x1b", New: &NewBatch{}}, "cannot be used"},
		"a piece":              {Command{By: "TV", Batch: "a", New: &NewBatch{Pieces: []Piece{{Name: long}}}}, "cannot be used"},
	} {
		err := CheckWording(c.command)
		if got := ""; err != nil {
			got = err.Error()
			if c.want == "" || !strings.Contains(got, c.want) || strings.ContainsAny(got, "\x00\x1b\n\u202e") {
				t.Errorf("%s: %q, want %q", name, got, c.want)
			}
		} else if c.want != "" {
			t.Errorf("%s was taken", name)
		}
	}
}
