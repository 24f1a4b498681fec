package rules

import (
	"cmp"
	_ "embed"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"sync"
)

// A NitriteLimit is what a rule set says about one substance in one kind of
// product. Ingoing limits count on green weight, not on the finished product,
// unless Basis says otherwise.
type NitriteLimit struct {
	Rule       string   // "us", "canada", "fda-home"
	Products   []string // "meat", "bacon", "bacon-skin-on", or "any"
	Methods    []string // as process/cure names them, or "any"
	Kind       string   // "max", "exact", "min", "useful min", "residual max"
	Substance  string   // "sodium nitrite", "nitrate (any)", ...
	PPM        float64
	Basis      string // the weight it counts on, in words
	AppliesTo  string // product and method, in the words of the source
	Note       string
	Source     string
	Provenance string // "seen" or "memory"
}

//go:embed nitrite.csv
var nitriteTable string

// nitriteLimits reads nitrite.csv once; nobody changes what it returns.
var nitriteLimits = sync.OnceValues(func() ([]NitriteLimit, error) {
	lines, err := records(nitriteTable)
	if err != nil {
		return nil, err
	}
	var out []NitriteLimit
	for _, line := range lines {
		ppm, err := strconv.ParseFloat(line["ppm"], 64)
		if err != nil {
			return nil, fmt.Errorf("rules: nitrite limit for %s: %w", line["applies_to"], err)
		}
		out = append(out, NitriteLimit{
			Rule: line["rule"], Products: strings.Split(line["products"], "|"), Methods: strings.Split(line["methods"], "|"),
			Kind: line["kind"], Substance: line["substance"], PPM: ppm, Basis: line["basis"],
			AppliesTo: line["applies_to"], Note: line["note"], Source: line["source"], Provenance: line["provenance"],
		})
	}
	return out, nil
})

// NitriteLimits returns every row. The caller owns the slice.
func NitriteLimits() []NitriteLimit {
	all, err := nitriteLimits()
	if err != nil {
		return nil
	}
	return slices.Clone(all)
}

// What a Curing may say.
var (
	nitriteRules    = [...]string{"us", "canada", "fda-home"}
	nitriteProducts = [...]string{"meat", "bacon", "bacon-skin-on"}
	nitriteMethods  = [...]string{"dry", "comminuted", "pumped", "picked up", "equilibrium"}
)

// A Curing is what a dose is checked for: by whose rule, which product ("meat" is
// any but bacon), and how the nitrite gets in, as process/cure names it.
type Curing struct {
	Rule, Product, Method string
}

// Check names the first field that no table knows, and what to write instead.
func (c Curing) Check() error {
	for _, f := range []struct {
		what, value string
		known       []string
	}{
		{"rule", c.Rule, nitriteRules[:]}, {"product", c.Product, nitriteProducts[:]}, {"method", c.Method, nitriteMethods[:]},
	} {
		if !slices.Contains(f.known, f.value) {
			return fmt.Errorf("rules: nitrite limits: unknown %s %q, want one of %q", f.what, f.value, f.known)
		}
	}
	return nil
}

// Cap returns the lowest limit on ingoing sodium nitrite; an exact dose is one too.
// ok is false when no table has one, as for bacon with the skin on in a brine: then
// nobody has said how much is allowed. The limits for skin on count on the whole
// weight; a weight reduced for the skin takes those of "bacon".
func (c Curing) Cap() (NitriteLimit, bool) {
	return lowest(c.limits("max", "exact"), "sodium nitrite", "sodium nitrite + nitrate")
}

// Least returns the minimum doses that the rule knows, highest first; Note and
// AppliesTo say when each is asked for.
func (c Curing) Least() []NitriteLimit {
	out := c.limits("min", "useful min", "exact")
	out = slices.DeleteFunc(out, func(l NitriteLimit) bool { return !strings.HasPrefix(l.Substance, "sodium nitrite") })
	slices.SortStableFunc(out, func(a, b NitriteLimit) int { return cmp.Compare(b.PPM, a.PPM) })
	return out
}

// Nitrate returns the limit on nitrate and whether nitrate is allowed at all. When
// no table says anything it is not, and the limit is empty.
func (c Curing) Nitrate() (limit NitriteLimit, allowed bool) {
	limit, ok := lowest(c.limits("max", "exact"), "nitrate (any)", "sodium nitrate", "sodium nitrite + nitrate")
	return limit, ok && limit.PPM > 0
}

// Accelerator returns the limit on sodium ascorbate or erythorbate.
func (c Curing) Accelerator() (NitriteLimit, bool) {
	return lowest(c.limits("max", "exact"), "sodium ascorbate or erythorbate")
}

// limits returns the rows of some kinds for this curing.
func (c Curing) limits(kinds ...string) []NitriteLimit {
	all, err := nitriteLimits()
	if err != nil || c.Check() != nil {
		return nil
	}
	var out []NitriteLimit
	for _, l := range all {
		if l.Rule == c.Rule && slices.Contains(kinds, l.Kind) && covers(l.Products, c.Product) && covers(l.Methods, c.Method) {
			out = append(out, l)
		}
	}
	return out
}

func covers(names []string, name string) bool {
	return slices.Contains(names, "any") || slices.Contains(names, name)
}

func lowest(limits []NitriteLimit, substances ...string) (best NitriteLimit, ok bool) {
	for _, l := range limits {
		if slices.Contains(substances, l.Substance) && (!ok || l.PPM < best.PPM) {
			best, ok = l, true
		}
	}
	return best, ok
}
