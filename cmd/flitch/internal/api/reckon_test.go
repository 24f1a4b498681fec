package api

import (
	"encoding/json"
	"net/http"
	"reflect"
	"strings"
	"testing"

	"flitch/cmd/flitch/internal/reckon"
)

// Every calculator is listed, answers its own example over the API, and says what the
// command says.
func TestEveryCalculatorAnswers(t *testing.T) {
	door := New((&house{}).deps())
	var listed []Calculator
	if err := json.Unmarshal(ask(t, door, request(http.MethodGet, "/api/reckon", "")).Body.Bytes(), &listed); err != nil || len(listed) != len(reckon.Calculators()) {
		t.Fatalf("%d calculators listed: %v", len(listed), err)
	}
	for _, c := range listed {
		r := request(http.MethodGet, "/api/reckon/"+c.Name, "")
		q := r.URL.Query()
		pairs, err := reckon.PairsOf(strings.Fields(c.Example))
		if err != nil {
			t.Fatal(err)
		}
		for _, p := range pairs {
			q.Add(p.Key, p.Text)
		}
		r.URL.RawQuery = q.Encode()
		w := ask(t, door, r)
		calc, err := reckon.Named(c.Name)
		if err != nil {
			t.Fatal(err)
		}
		want, err := calc.Answer(pairs)
		if err != nil {
			t.Fatal(err)
		}
		var got reckon.Answer
		if err := json.Unmarshal(w.Body.Bytes(), &got); err != nil || w.Code != http.StatusOK {
			t.Errorf("%s: %d %s %v", c.Name, w.Code, w.Body, err)
		}
		text, err := json.Marshal(want)
		if err != nil {
			t.Fatal(err)
		}
		var same reckon.Answer
		if err := json.Unmarshal(text, &same); err != nil || !reflect.DeepEqual(got, same) {
			t.Errorf("%s: the API says %+v, the command %+v", c.Name, got, same)
		}
	}
}

func TestReckoningsRefused(t *testing.T) {
	door := New((&house{}).deps())
	for path, want := range map[string]struct {
		status int
		text   string
	}{
		"cure-tim?thickness=1.5in":                                       {404, `"hint":"cure-time"`},
		"cure-time":                                                      {422, "thickness=38mm"},
		"cure-time?thickness=1.5&temp=4C":                                {422, "1.5mm, if mm was meant"},
		"cure-time?thickness=1.5in&temp=4C&temp=5C":                      {422, "given twice"},
		"cure-time?thicknes=1.5in&temp=4C":                               {422, `"hint":"thickness"`},
		"cure-time?thickness=1.5in&temp=4%2C5C":                          {422, "decimal comma"},
		"dose?green=1kg&nitrite=6.25%25&cure=1tsp":                       {422, "not dosed by the spoon"},
		"cure-time?thickness=" + strings.Repeat("9", 400) + "mm&temp=4C": {422, "smaller number"},
		"chill?core=54C":                                                 {422, "hint"},
	} {
		w := ask(t, door, request(http.MethodGet, "/api/reckon/"+path, ""))
		if w.Code != want.status || !strings.Contains(w.Body.String(), want.text) {
			t.Errorf("%s: %d %s, want %d with %q", path, w.Code, w.Body, want.status, want.text)
		}
	}
}
