package reckon

import (
	"errors"
	"fmt"
	"regexp"
	"slices"
	"strings"

	"flitch/cmd/flitch/internal/quantity"
)

// Wrong says of each pair, and of each key that is needed and was not typed, what is
// wrong with it by itself: what a form shows beside its fields, all at once. Empty: Answer
// may still complain of how they go together.
func (c Calculator) Wrong(typed []Pair) map[string]*quantity.Complaint {
	wrong := map[string]*quantity.Complaint{}
	for _, k := range c.Keys {
		at := slices.IndexFunc(typed, func(p Pair) bool { return p.Key == k.Name })
		if at < 0 && k.Needed {
			wrong[k.Name] = &quantity.Complaint{What: "needed: " + k.Help, Try: k.Read.Example, Usage: true}
		}
		if at < 0 {
			continue
		}
		if own, ok := errors.AsType[*quantity.Complaint](k.Read.Check(typed[at].Text)); ok {
			wrong[k.Name] = own
		}
	}
	return wrong
}

// Blame finds the key that a complaint of Answer is about, so that it can stand beside
// its field: the one that the hint tells to type, or else the first that is named. Empty:
// it is about none.
func (c Calculator) Blame(of *quantity.Complaint) string {
	for _, pattern := range []string{`(?:^|[\s(])%s=`, `(?:^|[\s(])%s(?:[\s,:;)]|$)`} {
		for _, text := range []string{of.Try, of.What} {
			if name := c.first(pattern, text); name != "" {
				return name
			}
		}
	}
	return ""
}

// first is the key that stands first in a text. Without its sign a word of two letters is
// more likely no key.
func (c Calculator) first(pattern, text string) (name string) {
	best := len(text)
	for _, k := range c.Keys {
		if len(k.Name) < 3 && !strings.HasSuffix(pattern, "=") {
			continue
		}
		word := regexp.MustCompile(fmt.Sprintf(pattern, regexp.QuoteMeta(k.Name)))
		if at := word.FindStringIndex(text); at != nil && at[0] < best {
			best, name = at[0], k.Name
		}
	}
	return name
}
