package main

import (
	"fmt"
	"slices"
	"strings"
)

// A key is one thing a calculator may be told.
type key struct {
	name   string
	help   string
	read   reader
	needed bool
	taken  string // what is taken when it is left out, as one would type it
	basis  string // why that: an assumption, from memory, common practice
}

// A reader makes a value of what is typed.
type reader struct {
	example string
	value   func(text string) (value, error)
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

// A pair is one key=value as typed.
type pair struct{ key, text string }

// given is what a calculator was told, with what was taken for the rest.
type given struct {
	values map[string]value
	typed  map[string]string
	taken  []taken
}

// taken is a value nobody typed.
type taken struct {
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

// pairsOf takes key=value apart.
func pairsOf(typed []string) ([]pair, error) {
	var pairs []pair
	for _, text := range typed {
		name, rest, ok := strings.Cut(text, "=")
		if !ok || name == "" {
			return nil, misuse("key=value, as in temp=4C", "%q is not key=value", text)
		}
		pairs = append(pairs, pair{key: name, text: rest})
	}
	return pairs, nil
}

// read reads the pairs by the calculator's keys.
func (c calculator) read(pairs []pair) (given, error) {
	g := given{values: map[string]value{}, typed: map[string]string{}}
	for _, p := range pairs {
		at := slices.IndexFunc(c.keys, func(k key) bool { return k.name == p.key })
		if at < 0 {
			return g, misuse(closest(p.key, c.keyNames()), "%s has no key %q", c.name, p.key)
		}
		if _, twice := g.typed[p.key]; twice {
			return g, misuse("it once", "%s is given twice", p.key)
		}
		v, err := c.keys[at].read.value(withoutExponent(p.text))
		if err != nil {
			return g, about(p, err)
		}
		g.values[p.key], g.typed[p.key] = v, p.text
	}
	return g, c.complete(&g)
}

// about puts the pair in front of a complaint about its value.
func about(p pair, err error) error {
	c, ok := err.(*complaint)
	if !ok {
		return err
	}
	return &complaint{What: p.key + "=" + p.text + ": " + c.What, Try: c.Try, Usage: c.Usage}
}

// complete takes what is left out, and complains when it is needed.
func (c calculator) complete(g *given) error {
	for _, k := range c.keys {
		if g.has(k.name) {
			continue
		}
		if k.needed {
			return misuse(k.name+"="+k.read.example, "%s needs %s: %s", c.name, k.name, k.help)
		}
		if k.taken == "" {
			continue
		}
		v, err := k.read.value(withoutExponent(k.taken))
		if err != nil {
			return fmt.Errorf("what %s takes for %s: %w", c.name, k.name, err)
		}
		g.values[k.name] = v
		g.taken = append(g.taken, taken{Key: k.name, Value: k.taken, Basis: k.basis})
	}
	return nil
}

func (c calculator) keyNames() []string {
	var names []string
	for _, k := range c.keys {
		names = append(names, k.name)
	}
	return names
}

// closest suggests the word that was most likely meant, or all of them.
func closest(typed string, words []string) string {
	best, least := "", max(1, len(typed)/3)+1
	for _, word := range words {
		if d := letters(strings.ToLower(typed), word); d < least {
			best, least = word, d
		}
	}
	if best == "" {
		return "one of " + strings.Join(words, ", ")
	}
	return best
}

// letters counts the letters to insert, drop or replace to turn a into b.
func letters(a, b string) int {
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
