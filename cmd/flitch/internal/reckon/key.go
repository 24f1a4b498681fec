package reckon

import (
	"cmp"
	"flitch/cmd/flitch/internal/quantity"
	"fmt"
	"slices"
	"strings"
)

// A Key is one thing a calculator may be told.
type Key struct {
	Name   string // as it is typed
	Help   string
	Read   Reader
	Needed bool
	Taken  string // what is taken when it is left out, as one would type it
	Basis  string // why that: an assumption, from memory, common practice
}

// A Reader makes a value of what is typed.
type Reader struct {
	Example string
	Choices []string // the words it takes, of which one is typed; nil: it takes what is typed
	Degrees Degrees  // what a plain number may be taken for, where it was said in which degrees
	value   func(text string) (value, error)
}

// Degrees says whether something is a temperature, or a difference of two.
type Degrees int

// What is counted in degrees, and how.
const (
	NoDegrees Degrees = iota
	Temperature
	Difference
)

// Check says what is wrong with what is typed; nil: it can be read.
func (r Reader) Check(text string) error {
	_, err := r.value(quantity.WithoutExponent(text))
	return err
}

// A value is a number in the unit the calculators count in (g, mm, °C, h, a part,
// Pa, m), a word, or a series.
type value struct {
	number float64
	word   string
	series []moment
}

// A moment is one point of a series.
type moment struct{ hours, value float64 }

// A Pair is one key=value as typed.
type Pair struct{ Key, Text string }

// Compare puts pairs in order of their keys.
func (p Pair) Compare(q Pair) int {
	return cmp.Or(cmp.Compare(p.Key, q.Key), cmp.Compare(p.Text, q.Text))
}

// given is what a calculator was told, with what was taken for the rest.
type given struct {
	values map[string]value
	typed  map[string]string
	taken  []Taken
}

// Taken is a value nobody typed.
type Taken struct {
	Key   string `json:"key"`
	Value string `json:"value"`
	Basis string `json:"basis"`
}

func (g given) number(name string) float64  { return g.values[name].number }
func (g given) word(name string) string     { return g.values[name].word }
func (g given) series(name string) []moment { return g.values[name].series }

func (g given) has(name string) bool {
	_, ok := g.values[name]
	return ok
}

// only complains unless exactly one of the keys was typed.
func (g given) only(names ...string) error {
	n := 0
	for _, name := range names {
		if g.has(name) {
			n++
		}
	}
	if n == 1 {
		return nil
	}
	return misuse("one of "+strings.Join(names, ", "), "%d of %s are given, want exactly one", n, strings.Join(names, ", "))
}

// PairsOf takes key=value apart, or returns a *quantity.Complaint.
func PairsOf(typed []string) ([]Pair, error) {
	var pairs []Pair
	for _, text := range typed {
		name, rest, ok := strings.Cut(text, "=")
		if !ok || name == "" {
			return nil, misuse("key=value, as in temp=4C", "%q is not key=value", text)
		}
		pairs = append(pairs, Pair{Key: name, Text: rest})
	}
	return pairs, nil
}

// read reads the pairs by the calculator's keys.
func (c Calculator) read(pairs []Pair) (given, error) {
	g := given{values: map[string]value{}, typed: map[string]string{}}
	for _, p := range pairs {
		at := slices.IndexFunc(c.Keys, func(k Key) bool { return k.Name == p.Key })
		if at < 0 {
			return g, misuse(Closest(p.Key, c.KeyNames()), "%s has no key %q", c.Name, p.Key)
		}
		if _, twice := g.typed[p.Key]; twice {
			return g, misuse("it once", "%s is given twice", p.Key)
		}
		v, err := c.Keys[at].Read.value(quantity.WithoutExponent(p.Text))
		if err != nil {
			return g, about(p, err)
		}
		g.values[p.Key], g.typed[p.Key] = v, p.Text
	}
	return g, c.complete(&g)
}

// about puts the pair in front of a complaint about its value.
func about(p Pair, err error) error {
	c, ok := err.(*quantity.Complaint)
	if !ok {
		return err
	}
	return &quantity.Complaint{What: p.Key + "=" + p.Text + ": " + c.What, Try: c.Try, Usage: c.Usage}
}

// complete takes what is left out, and complains when it is needed.
func (c Calculator) complete(g *given) error {
	for _, k := range c.Keys {
		if g.has(k.Name) {
			continue
		}
		if k.Needed {
			return misuse(k.Name+"="+k.Read.Example, "%s needs %s: %s", c.Name, k.Name, k.Help)
		}
		if k.Taken == "" {
			continue
		}
		v, err := k.Read.value(quantity.WithoutExponent(k.Taken))
		if err != nil {
			return fmt.Errorf("what %s takes for %s: %w", c.Name, k.Name, err)
		}
		g.values[k.Name] = v
		g.taken = append(g.taken, Taken{Key: k.Name, Value: k.Taken, Basis: k.Basis})
	}
	return nil
}

// KeyNames are the names of the keys, in their order.
func (c Calculator) KeyNames() []string {
	var names []string
	for _, k := range c.Keys {
		names = append(names, k.Name)
	}
	return names
}

// Closest suggests the word that was most likely meant, or all of them.
func Closest(typed string, words []string) string {
	best, least := "", max(1, len(typed)/3)+1
	for _, word := range words {
		if d := Letters(strings.ToLower(typed), word); d < least {
			best, least = word, d
		}
	}
	if best == "" {
		return "one of " + strings.Join(words, ", ")
	}
	return best
}

// Letters counts the Letters to insert, drop or replace to turn a into b.
func Letters(a, b string) int {
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := range len(a) {
		corner := row[0]
		row[0] = i + 1
		for j := range len(b) {
			replace := corner
			if a[i] != b[j] {
				replace++
			}
			corner = row[j+1]
			row[j+1] = min(replace, row[j]+1, row[j+1]+1)
		}
	}
	return row[len(b)]
}
