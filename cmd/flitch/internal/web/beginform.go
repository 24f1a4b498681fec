package web

import (
	"fmt"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"flitch/cmd/flitch/internal/dosing"
	"flitch/process"
)

const (
	firstRows = 4  // of pieces on the empty form
	moreRows  = 4  // that the button adds
	mostRows  = 40 // proposal: a shop with more begins two batches
)

// A beginForm is the form of a new batch as it was typed, and what is wrong with each
// field.
type beginForm struct {
	Class, Plan, Name, Fridge, Smoker, Chill string
	Nitrite, Nitrate, PPM                    string // of the packet, and what is asked
	Rule, Method, Product                    string
	Brine, Pickle, Pump                      string
	Rows                                     []pieceRow

	Wrong map[string]string // by name of the field
}

// A pieceRow is one slab as it was typed.
type pieceRow struct {
	Name, Weight, Thick, Core, Recipe string
	Skin                              bool
}

// empty reports a row in which nothing but its letter stands.
func (p pieceRow) empty() bool { return p.Weight == "" && p.Thick == "" && p.Recipe == "" }

// letter is the name a slab gets unless the person has another: A, B, ... Z, AA.
func letter(n int) string {
	if n < 26 {
		return string(rune('A' + n))
	}
	return "A" + string(rune('A'+n-26))
}

// withRows makes the form so many rows long.
func (f *beginForm) withRows(n int) {
	for i := len(f.Rows); i < min(n, mostRows); i++ {
		f.Rows = append(f.Rows, pieceRow{Name: letter(i)})
	}
}

func typedBegin(v url.Values) *beginForm {
	get := func(name string) string { return strings.TrimSpace(v.Get(name)) }
	f := &beginForm{Class: get("class"), Plan: get("plan"), Name: get("name"), Fridge: get("fridge"), Smoker: get("smoker"), Chill: get("chill"),
		Nitrite: get("nitrite"), Nitrate: get("nitrate"), PPM: get("ppm"), Rule: get("rule"), Method: get("method"), Product: get("product"),
		Brine: get("brine"), Pickle: get("pickle"), Pump: get("pump"), Wrong: map[string]string{}}
	rows, _ := strconv.Atoi(get("rows")) // what is no number is none, and the form begins anew
	for i := range min(rows, mostRows) {
		at := func(field string) string { return get(fmt.Sprint(field, "-", i)) }
		f.Rows = append(f.Rows, pieceRow{Name: at("piece"), Weight: at("weight"), Thick: at("thick"), Core: at("core"), Recipe: at("recipe"), Skin: at("skin") != ""})
	}
	f.withRows(firstRows)
	return f
}

// formLike is the form filled in as another batch was begun: all but what differs from
// one slab to the next.
func formLike(r NewRequest, class process.Class) *beginForm {
	f := &beginForm{Class: string(class), Plan: r.Plan, Fridge: r.Fridge, Smoker: r.Smoker, Chill: r.Chill, Wrong: map[string]string{}}
	for _, p := range r.Pieces {
		row := pieceRow{Name: p.Name, Skin: p.SkinOn}
		for probe, in := range r.Cores {
			if in == p.Name {
				row.Core = probe
			}
		}
		f.Rows = append(f.Rows, row)
	}
	f.withRows(firstRows)
	if d := r.Asked; d != nil {
		f.Nitrite, f.Nitrate, f.PPM, f.Rule, f.Product = typedPart(d.Nitrite), typedPart(d.Nitrate), typedNumber(d.PPM), d.Rule, d.Product
		f.Method, f.Pump = wayOf(d.Method), typedPart(d.Uptake)
		f.Brine, f.Pickle = typedNumber(d.WaterG), typedNumber(d.PickleG)
	}
	return f
}

// wayOf is the word of the form for how the cure gets in.
func wayOf(method string) string {
	for _, word := range ways {
		if string(dosing.Methods[word]) == method {
			return word
		}
	}
	return ""
}

// ways are the words of the form for how the cure gets in, the usual one first where two
// mean the same dose.
var ways = []string{"bag", "dry", "immersion", "pumped", "comminuted"}

func typedNumber(v float64) string {
	if v == 0 {
		return ""
	}
	return strconv.FormatFloat(v, 'f', -1, 64)
}

func typedPart(v float64) string { return typedNumber(float64(int64(v*1e6+0.5)) / 1e4) }

// nextName is a name that no batch has: that of the newest with its last number one
// higher, or the day.
func nextName(batches []Summary, day string) string {
	taken := func(name string) bool {
		return slices.ContainsFunc(batches, func(b Summary) bool { return b.ID == name })
	}
	stem, digits, n := day+"-", 0, 1
	if len(batches) > 0 {
		newest := batches[0].ID
		cut := strings.TrimRight(newest, "0123456789")
		if last, err := strconv.Atoi(newest[len(cut):]); err == nil && last < 1e9 {
			stem, digits, n = cut, len(newest)-len(cut), last+1
		}
	}
	for taken(fmt.Sprintf("%s%0*d", stem, digits, n)) {
		n++
	}
	return fmt.Sprintf("%s%0*d", stem, digits, n)
}

// onlyPlaces fills in the places of which there is just one.
func (f *beginForm) onlyPlaces(anew bool, c Choices) {
	if anew && len(c.Fridges) == 1 {
		f.Fridge = c.Fridges[0].Name
	}
	if anew && len(c.Smokers) == 1 {
		f.Smoker = c.Smokers[0].Name
	}
}
