package api

import (
	"net/http"
	"reflect"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"flitch/cmd/flitch/internal/api/apitest"
	"flitch/cmd/flitch/internal/reckon"
	"flitch/cmd/flitch/internal/web"
)

// book is openapi.yaml, read once for all tests.
var book = sync.OnceValues(func() (*apitest.Book, error) { return apitest.Read(openAPI) })

func theBook(t *testing.T) *apitest.Book {
	t.Helper()
	b, err := book()
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// whole is a house in which every part is there, and so every route.
func whole() Deps {
	h := &house{}
	d := h.deps()
	d.Phones, d.Import = phoneBook{new([]NewPhone)}, noImport{}
	return d
}

// What is served is described, and what is described is served.
func TestEveryRouteIsDescribed(t *testing.T) {
	var served []string
	for _, one := range (&server{Deps: whole()}).routes() {
		served = append(served, one.pattern)
	}
	for name, kind := range paperKinds {
		if kind == "application/json" {
			served = append(served, "GET /batches/{id}/"+name)
		}
	}
	described := theBook(t).Routes()
	for _, pattern := range served {
		if !slices.Contains(described, pattern) {
			t.Errorf("%s is served and not in openapi.yaml: add it under paths, with its parameters, body, answers and refusals", pattern)
		}
	}
	for _, pattern := range described {
		if !slices.Contains(served, pattern) {
			t.Errorf("%s is in openapi.yaml and not served: add it to the table in routes.go, or take it out", pattern)
		}
	}
	if len(served) < 18 {
		t.Errorf("only %d routes looked at", len(served))
	}
}

// Each command has a schema and an example, which is taken.
func TestEveryCommandIsDescribed(t *testing.T) {
	examples, err := theBook(t).Examples("POST /api/commands")
	if err != nil {
		t.Fatal(err)
	}
	for _, kind := range commandKinds {
		if examples[string(kind)] == nil {
			t.Errorf("command %q has no example in openapi.yaml, POST /api/commands: add a schema for it, in oneOf too, and an example of this name", kind)
		}
	}
	for name, body := range examples {
		h := &house{}
		r := request(http.MethodPost, "/api/commands", string(body))
		d := h.deps()
		d.Batches = anyPlan{h}
		if w := ask(t, New(d), r); w.Code != http.StatusOK || len(h.said) != 1 || string(h.said[0].Kind) != name {
			t.Errorf("example %s: %d %s, said %+v", name, w.Code, w.Body, h.said)
		}
	}
	for body, want := range map[string]string{
		`{"kind":"turned","batch":"x","by":"TV","value":3}`: "", `{"kind":"weighed","batch":"x","by":"TV"}`: "", `{"kind":"destroy","by":"TV"}`: "", `{"kind":"note","batch":"x","text":"y"}`: "",
	} {
		if theBook(t).Body("POST /api/commands", []byte(body)) == nil {
			t.Errorf("openapi.yaml would let pass %s%s", body, want)
		}
	}
}

// Every field of what is answered, and of what is read, is described, and no other.
func TestEveryFieldIsDescribed(t *testing.T) {
	w := walk{t: t, book: theBook(t), seen: map[reflect.Type]bool{}}
	for schema, one := range map[string]any{
		"Glance": web.Glance{}, "Summary": web.Summary{}, "Batch": Batch{}, "Alarm": web.Alarm{}, "Probe": Probe{}, "Heard": web.Heard{}, "Phone": Phone{}, "Calculator": Calculator{},
		"ReckonAnswer": reckon.Answer{}, "Refusal": refusal{}, "Imported": Imported{}, "Noted": Noted{}, "Fault": Fault{}, "NewRequest": NewRequest{}, "NewPhone": NewPhone{},
		"Renewal": Renewal{}, "ImportRows": ImportRows{}, "ImportDone": ImportDone{}, "NewProbe": probeBody{}, "SignIn": signInBody{}, "PhoneRemoval": removeBody{},
	} {
		w.compare(schema, reflect.TypeOf(one))
	}
	if len(w.seen) < 50 {
		t.Errorf("only %d types looked at", len(w.seen))
	}
}

// A walk goes from a type to those it holds.
type walk struct {
	t    *testing.T
	book *apitest.Book
	seen map[reflect.Type]bool
}

func (w walk) compare(schema string, of reflect.Type) {
	if w.seen[of] {
		return
	}
	w.seen[of] = true
	described, always := w.book.Fields(schema)
	if described == nil {
		w.t.Errorf("openapi.yaml has no schema %s, for %v", schema, of)
		return
	}
	fields := map[string]reflect.StructField{}
	collect(of, fields)
	for name, f := range fields {
		if !slices.Contains(described, name) {
			w.t.Errorf("field %q of %v is not in schema %s of openapi.yaml: add it there", name, of, schema)
			continue
		}
		if inner := structOf(f.Type); inner != nil && inner.Name() != "" {
			w.compare(w.book.Of(schema, name), inner)
		}
	}
	for _, name := range described {
		if _, ok := fields[name]; !ok {
			w.t.Errorf("openapi.yaml has %q in schema %s, and %v does not", name, schema, of)
		}
	}
	for _, name := range always {
		if f, ok := fields[name]; ok && strings.Contains(f.Tag.Get("json"), ",omit") {
			w.t.Errorf("openapi.yaml requires %q in schema %s, and %v leaves it out at times", name, schema, of)
		}
	}
}

// collect finds the fields as JSON has them: those of an embedded struct are its own.
func collect(of reflect.Type, into map[string]reflect.StructField) {
	var embedded []reflect.Type
	for i := range of.NumField() {
		f := of.Field(i)
		name, _, _ := strings.Cut(f.Tag.Get("json"), ",")
		switch {
		case name == "-":
		case f.Anonymous && name == "":
			embedded = append(embedded, f.Type)
		case f.IsExported() && name == "":
			into[f.Name] = f
		case f.IsExported():
			into[name] = f
		}
	}
	for _, e := range embedded {
		inner := map[string]reflect.StructField{}
		collect(e, inner)
		for name, f := range inner {
			if _, hidden := into[name]; !hidden {
				into[name] = f
			}
		}
	}
}

// structOf is the struct at the end of pointers, lists and maps; nil: none, or a time.
func structOf(of reflect.Type) reflect.Type {
	switch of.Kind() {
	case reflect.Pointer, reflect.Slice, reflect.Array, reflect.Map:
		return structOf(of.Elem())
	case reflect.Struct:
		if of != reflect.TypeFor[time.Time]() {
			return of
		}
	}
	return nil
}
