package web

import (
	"context"
	"html"
	"net/http"
	"net/http/httptest"
	"net/url"
	"slices"
	"strings"
	"testing"

	"flitch/cmd/flitch/internal/reckon"
	"flitch/process/record"
)

// namesAKey reports a text that is the title of a calculator, or the label of one of its
// keys.
func namesAKey(text string) bool {
	if name, ok := strings.CutPrefix(text, "reckon.title."); ok {
		_, err := reckon.Named(name)
		return err == nil
	}
	rest, label := strings.CutPrefix(text, "reckon.label.")
	rest, sample := strings.CutPrefix(rest, "reckon.sample.")
	parts := strings.Split(rest, ".")
	if len(parts) != 2 || !label && !sample {
		return false
	}
	c, err := reckon.Named(parts[0])
	return err == nil && slices.Contains(c.KeyNames(), parts[1])
}

// asked is the address of a calculator with its pairs as fields.
func asked(t *testing.T, line string) string {
	t.Helper()
	name, rest, _ := strings.Cut(line, " ")
	pairs, err := reckon.PairsOf(strings.Fields(rest))
	if err != nil {
		t.Fatal(err)
	}
	q := url.Values{}
	for _, p := range pairs {
		q.Set(p.Key, p.Text)
	}
	return "/reckon/" + name + "?" + q.Encode()
}

// Every calculator has a page with all of its keys, and answers its own example there:
// each number with what it rests on.
func TestEveryCalculatorHasAPage(t *testing.T) {
	page := sampleHouse().page(t, record.Site{})
	list := get(t, page, "/reckon").Body.String()
	for _, c := range reckon.Calculators() {
		holds(t, list, `href="/reckon/`+c.Name+`"`)
		form := get(t, page, "/reckon/"+c.Name)
		if form.Code != http.StatusOK || strings.Contains(form.Body.String(), `class="reckoned"`) || strings.Contains(form.Body.String(), "aria-invalid") {
			t.Errorf("%s, nothing typed: %d", c.Name, form.Code)
		}
		for _, k := range c.Keys {
			holds(t, form.Body.String(), `name="`+k.Name+`"`, `for="k-`+k.Name+`"`)
		}
		w := get(t, page, asked(t, c.Name+" "+c.Example))
		if w.Code != http.StatusOK {
			t.Errorf("%s %s: %d\n%s", c.Name, c.Example, w.Code, w.Body)
			continue
		}
		pairs, err := reckon.PairsOf(strings.Fields(c.Example))
		if err != nil {
			t.Fatal(err)
		}
		a, err := c.Answer(pairs)
		if err != nil {
			t.Fatal(err)
		}
		body := html.UnescapeString(w.Body.String())
		holds(t, body, a.Source, a.Uncertainty, "flitch reckon "+c.Name+" ", "/api/reckon/"+c.Name+"?")
		if got := strings.Count(body, `class="by"`); got != len(a.Results) {
			t.Errorf("%s: %d results have their rule and source, of %d", c.Name, got, len(a.Results))
		}
		for _, p := range pairs {
			if !strings.Contains(body, `value="`+p.Text+`"`) && !strings.Contains(body, "<option selected>"+p.Text+"<") {
				t.Errorf("%s: %s=%s is gone from the form", c.Name, p.Key, p.Text)
			}
		}
	}
	if w := get(t, page, "/batches"); !strings.Contains(w.Body.String(), `href="/reckon"`) {
		t.Error("no page leads to the calculators")
	}
}

// What is wrong stands beside its field with what to type, all of it at once, and what was
// typed is kept.
func TestACalculatorSaysWhatIsWrongBesideItsField(t *testing.T) {
	page := sampleHouse().page(t, record.Site{})
	for line, wants := range map[string][]string{
		"cure-time thickness=38 temp=4C":                    {`id="k-thickness" name="thickness" value="38"`, `aria-describedby="w-thickness"`, `id="w-thickness">"38" has no unit. Type: 38mm, if mm was meant`, `value="4C"`},
		"cure-time thickness=1.5in":                         {`id="w-temp">needed: of the meat, as long as it lies. Type: 4C`},
		"cure-time thickness=heavy temp=cold rule=much":     {`id="w-thickness"`, `id="w-temp"`, `id="w-rule"`, `value="heavy"`, `value="cold"`, `value="much"`},
		"cure-time thickness=1.5in temp=4C rule=4d/lb":      {`id="w-weight">rule=4d/lb goes by weight`, "<details open>"},
		"dose green=1 nitrite=6.25 ppm=120":                 {`id="w-green">"1" has no unit. Type: 1g, if g was meant`},
		"dose green=1kg nitrite=6.25 ppm=120":               {`id="w-nitrite">"6.25" has no per cent sign. Type: 6.25%`},
		"dose green=1kg nitrite=6.25% cure=1tsp":            {`id="w-cure">nitrite is not dosed by the spoon`},
		"dose green=1kg nitrite=62.5% ppm=120":              {`id="w-nitrite">62.5 % nitrite is held`},
		"dose green=1kg nitrite=6.25% ppm=201 rule=us":      {`id="w-ppm">201 ppm is over 200 ppm`},
		"lethality temp=60C time=12min profile=0h:1C|1h:2C": {`id="w-temp">2 of temp, profile are given`},
		"chill core=54C air=3C":                             {`id="w-tau"`, "want exactly one"},
		"wet-bulb dry=20C rh=50% wet=15C":                   {"want exactly one"},
		"boiling-point ice=0.3C":                            {`id="w-ice">a calibration needs both`},
		"wet-bulb dry=<script> rh=50%":                      {`value="<script>"`},
	} {
		w := get(t, page, asked(t, line))
		body := w.Body.String()
		if w.Code != http.StatusUnprocessableEntity || strings.Contains(body, "<script>\"") || strings.Contains(body, `class="reckoned"`) {
			t.Errorf("%s: %d", line, w.Code)
		}
		holds(t, html.UnescapeString(body), append(wants, `aria-invalid="true"`, "Look at the fields that are marked.")...)
	}
	if w := get(t, page, "/reckon/spoon?x=1"); w.Code != http.StatusNotFound || !strings.Contains(w.Body.String(), "there is no calculator") || !strings.Contains(w.Body.String(), `href="/reckon/dose"`) {
		t.Errorf("no such calculator: %d", w.Code)
	}
}

// Verdicts are words with their rule and source; a dose says its cautions, and once.
func TestVerdictsHaveTheirRule(t *testing.T) {
	page := sampleHouse().page(t, record.Site{})
	body := html.UnescapeString(get(t, page, asked(t, "dose green=2268g nitrite=6.25% cure=43.5g rule=us ppm=120")).Body.String())
	holds(t, body, `class="verdict"><dt>check, most nitrite</dt><dd><strong>not met</strong>`, "us, ", "Nitrite is a poison", "Never by the spoon", "decimal point")
	if strings.Count(body, "Nitrite is a poison") != 1 {
		t.Error("the cautions are said twice")
	}
	holds(t, get(t, page, "/reckon/dose").Body.String(), "Nitrite is a poison")
	body = html.UnescapeString(get(t, page, asked(t, "lethality temp=140F time=12min probe=0K")).Body.String())
	holds(t, body, `<dt>table fsis-meat-6.5</dt><dd><strong>met</strong>`, "table fsis-meat-6.5. Source: ")
}

// A browser that was told °F types and reads °F; the numbers are the same.
func TestACalculatorInTheDegreesOfTheBrowser(t *testing.T) {
	page := Degrees(sampleHouse().page(t, record.Site{}))
	ask := func(path, degrees string) string {
		r := httptest.NewRequestWithContext(context.Background(), http.MethodGet, path, nil)
		r.AddCookie(&http.Cookie{Name: degreesCookie, Value: degrees})
		w := httptest.NewRecorder()
		page.ServeHTTP(w, r)
		return html.UnescapeString(w.Body.String())
	}
	moved := func(path, degrees, to string) {
		t.Helper()
		r := httptest.NewRequest(http.MethodGet, path, nil)
		r.AddCookie(&http.Cookie{Name: degreesCookie, Value: degrees})
		w := httptest.NewRecorder()
		page.ServeHTTP(w, r)
		if w.Code != http.StatusSeeOther || w.Header().Get("Location") != to {
			t.Errorf("%s in °%s: %d to %s, want %s", path, degrees, w.Code, w.Header().Get("Location"), to)
		}
	}
	plain, kept := asked(t, "wet-bulb dry=68 rh=50%"), asked(t, "wet-bulb dry=68F rh=50%")
	moved(plain, "F", kept)
	moved(plain, "C", asked(t, "wet-bulb dry=68C rh=50%"))
	holds(t, ask(kept, "F"), "56.8 °F", `value="68F"`, "Dry bulb: the air, °F", "flitch reckon wet-bulb dry=68F rh=50%") // ASHRAE: 13.78 °C
	holds(t, ask(kept, "C"), "13.8 °C", `value="68F"`, "Dry bulb: the air, °C")
	moved(asked(t, "lethality temp=60C time=12min probe=0.5"), "F", asked(t, "lethality temp=60C time=12min probe=0.5F"))
	holds(t, ask(asked(t, "lethality temp=60C time=12min"), "F"), "F at 140 °F", "Left empty: 0.9F")
	holds(t, ask(asked(t, "chill core=54.4C air=3C tau=3h option=B3"), "F"), "°F to ", "placeholder=\"39.2F\"")
}

// An answer that can be drawn leads to its picture; one that cannot, to none.
func TestAReckoningIsDrawn(t *testing.T) {
	page := sampleHouse().page(t, record.Site{})
	for line, wants := range map[string][]string{
		"cure-time thickness=1.5in temp=4C days=5d":                        {"after 5 d: ", "after 7.02 d, through by the model: 90 %", "from the face to the other face"},
		"cure-time thickness=1.5in temp=4C skin=on":                        {"from the skin to the flesh face"},
		"chill core=54.4C air=3C tau=3h option=B3":                         {"leg 1: 26.7 °C by", "leg 2: 7.2 °C by", "core forecast", "forecast, with its 80 % interval"},
		"chill core=54.4C air=3C thickness=2in left=6h":                    {"leg 1: 4.4 °C by"},
		"chill core=54.4C air=10C tau=3h option=B3":                        {"leg 2: 7.2 °C by"}, // it never gets there
		"cure-time thickness=1.5in temp=4C rule=4d/lb weight=5lb bath=rub": {"through by the model"},
	} {
		body := html.UnescapeString(get(t, page, asked(t, line)).Body.String())
		path := strings.Replace(asked(t, line), "?", "/picture.svg?", 1)
		holds(t, body, path)
		for _, width := range []string{"332", "99999", "x"} {
			w := get(t, page, path+"&width="+width)
			if w.Code != http.StatusOK || w.Header().Get("Content-Type") != "image/svg+xml" {
				t.Fatalf("%s: %d %s", line, w.Code, w.Body)
			}
			holds(t, html.UnescapeString(w.Body.String()), wants...)
		}
	}
	for _, line := range []string{"chill core=54.4C air=3C tau=3h", "chill core=20C air=3C tau=3h option=B3", "cure-time thickness=1.5in temp=-5C", "wet-bulb dry=20C rh=50%", "cure-time thickness=1.5in", "cure-time thickness=1.5in temp=4C rule=4d/lb"} {
		if body := get(t, page, asked(t, line)).Body.String(); strings.Contains(body, "picture.svg") {
			t.Errorf("%s leads to a picture", line)
		}
		if w := get(t, page, strings.Replace(asked(t, line), "?", "/picture.svg?", 1)); w.Code != http.StatusNotFound {
			t.Errorf("%s is drawn: %d", line, w.Code)
		}
	}
}
