package main

import (
	"flitch/cmd/flitch/internal/reckon"
	"slices"
	"strings"
)

// heads is what the user says about the heads of a column file.
type heads struct {
	skip []string // not to be read
	as   []string // HEAD=KEY: to be read as another head
}

// rename gives the heads as they are to be read. A head that is not there, or a key
// that is none, is refused: a slip here would be a column left out in silence.
func (h heads) rename(head []string, calc reckon.Calculator) ([]string, error) {
	out := make([]string, len(head))
	for i, name := range head {
		out[i] = strings.TrimSpace(name)
	}
	for _, text := range h.as {
		from, to, ok := cutLast(text)
		if !ok {
			return nil, misuse("--as HEAD=KEY, as in --as T_init=from_C", "--as %q is not HEAD=KEY", text)
		}
		at := slices.IndexFunc(head, func(name string) bool { return strings.TrimSpace(name) == from })
		if at < 0 {
			return nil, misuse("one of "+strings.Join(head, ", "), "--as: there is no column %q", from)
		}
		if columnOf(to, calc).key == "" {
			return nil, misuse(reckon.Closest(to, calc.KeyNames())+", with a unit behind it as in from_C", "--as: %q is no key of %s", to, calc.Name)
		}
		out[at] = to
	}
	return out, nil
}

// cutLast takes HEAD=KEY apart at the last sign, for a head may have one.
func cutLast(text string) (head, to string, ok bool) {
	at := strings.LastIndex(text, "=")
	if at <= 0 || at == len(text)-1 {
		return "", "", false
	}
	return strings.TrimSpace(text[:at]), strings.TrimSpace(text[at+1:]), true
}

// unitColumns finds columns that hold the units of others, line by line: source_unit
// is that of source_mass, or else mass_unit is. The heads that are used so come back.
func unitColumns(head []string, columns []column, skip []string) (used []string) {
	for i := range columns {
		c := &columns[i]
		if c.key == "" || len(c.units) > 0 {
			continue
		}
		name := strings.ToLower(head[i])
		for _, fits := range []func(stem string) bool{
			func(stem string) bool { return name == stem || strings.HasPrefix(name, stem+"_") },
			func(stem string) bool { return strings.HasSuffix(name, "_"+stem) },
		} {
			at := slices.IndexFunc(head, func(h string) bool {
				stem, ok := strings.CutSuffix(strings.ToLower(h), "_unit")
				return ok && stem != "" && fits(stem) && !slices.Contains(skip, h)
			})
			if at >= 0 && columns[at].key == "" {
				c.unitCell, used = at+1, append(used, head[at])
				break
			}
		}
	}
	return used
}
