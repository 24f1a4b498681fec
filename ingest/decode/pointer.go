package decode

import (
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"
)

// pointer is a compiled JSON pointer (RFC 6901). The zero pointer is the whole
// document.
type pointer struct {
	text  string
	steps []step
}

// A step is one token of a pointer. Written [name=value] it picks, in a list, the
// element that has that member; in an object it is a name like any other.
type step struct {
	token    string
	selects  bool
	name, is string
}

// parsePointer compiles an RFC 6901 pointer: "" or "/a/0/b", with ~0 for "~" and
// ~1 for "/".
func parsePointer(text string) (pointer, error) {
	if text == "" {
		return pointer{}, nil
	}
	if text[0] != '/' {
		return pointer{}, fmt.Errorf("path %s does not start with a slash: write /%s", quoted(text), cut(text))
	}
	p := pointer{text: text}
	for t := range strings.SplitSeq(text[1:], "/") {
		token, err := unescape(t)
		if err != nil {
			return pointer{}, fmt.Errorf("path %s: %w", quoted(text), err)
		}
		p.steps = append(p.steps, newStep(token))
	}
	return p, nil
}

func newStep(token string) step {
	s := step{token: token}
	if inner, ok := strings.CutPrefix(token, "["); ok {
		if inner, ok = strings.CutSuffix(inner, "]"); ok {
			s.name, s.is, s.selects = strings.Cut(inner, "=")
		}
	}
	return s
}

// unescape resolves ~0 and ~1. The order matters: "~01" is "~1" (RFC 6901, 4).
func unescape(t string) (string, error) {
	for i := 0; i < len(t); i++ {
		if t[i] == '~' && (i+1 == len(t) || t[i+1] != '0' && t[i+1] != '1') {
			return "", fmt.Errorf("a lone ~ is written ~0, and a slash inside a name ~1")
		}
	}
	return strings.ReplaceAll(strings.ReplaceAll(t, "~1", "/"), "~0", "~"), nil
}

// What a pointer is seen from, in the words of a problem.
const (
	thePayload = "the payload"
	theReading = "the reading"
)

// find returns what p points at in root, which from names.
func (p *pointer) find(root any, from string) (any, error) {
	at := root
	for i := range p.steps {
		var next any
		var ok bool
		switch v := at.(type) {
		case map[string]any:
			next, ok = v[p.steps[i].token]
		case []any:
			if p.steps[i].selects {
				var err error
				if next, err = p.pick(v, i); err != nil {
					return nil, err
				}
				ok = true
			} else {
				next, ok = element(v, p.steps[i].token)
			}
		}
		if !ok {
			return nil, p.missing(at, i, from)
		}
		at = next
	}
	return at, nil
}

// element returns v[token], where token is a decimal index without leading
// zeros (RFC 6901, 4).
func element(v []any, token string) (any, bool) {
	n, err := strconv.Atoi(token)
	if err != nil || n < 0 || n >= len(v) || strconv.Itoa(n) != token {
		return nil, false
	}
	return v[n], true
}

// pick returns the one element of v that the i-th step selects.
func (p *pointer) pick(v []any, i int) (any, error) {
	s := p.steps[i]
	var found any
	n := 0
	for _, e := range v {
		if s.matches(e) {
			found = e
			n++
		}
	}
	switch n {
	case 0:
		return nil, problem(NoValue, fmt.Sprintf("nothing at %s: no element of the list has %s = %s%s", quoted(p.text), s.name, quoted(s.is), s.others(v)))
	case 1:
		return found, nil
	}
	return nil, problem(NoValue, fmt.Sprintf("%d things at %s: which is meant cannot be told", n, quoted(p.text)))
}

// matches reports whether an element of a list is selected.
func (s step) matches(e any) bool {
	object, ok := e.(map[string]any)
	if !ok {
		return false
	}
	member, ok := object[s.name]
	if !ok {
		return false
	}
	text, ok := plainText(member)
	return ok && text == s.is
}

// others lists what could have been selected.
func (s step) others(v []any) string {
	var known []string
	for _, e := range v {
		object, ok := e.(map[string]any)
		if !ok {
			continue
		}
		if text, ok := plainText(object[s.name]); ok && len(known) < namesMax {
			known = append(known, quoted(text))
		}
	}
	if len(known) == 0 {
		return ""
	}
	return ", but " + strings.Join(known, ", ")
}

// plainText is a single value as text; ok is false for null, objects and lists.
func plainText(v any) (text string, ok bool) {
	switch v := v.(type) {
	case string:
		return v, true
	case json.Number:
		return v.String(), true
	case bool:
		return strconv.FormatBool(v), true
	}
	return "", false
}

// missing says what was there instead of the i-th step of p.
func (p *pointer) missing(at any, i int, from string) *Problem {
	where := from
	if i > 0 {
		where = quoted(strings.Join(strings.SplitN(p.text, "/", i+2)[:i+1], "/"))
	}
	return problem(NoValue, fmt.Sprintf("nothing at %s: %s %s", quoted(p.text), where, holds(at)))
}

// namesMax bounds how many names of an object a problem lists.
const namesMax = 8

// holds describes v for a person who has to correct a path.
func holds(v any) string {
	switch v := v.(type) {
	case nil:
		return "is null"
	case map[string]any:
		names := slices.Sorted(maps.Keys(v))
		more := ""
		if len(names) > namesMax {
			names, more = names[:namesMax], ", ..."
		}
		for i, n := range names {
			names[i] = quoted(n)
		}
		if len(names) == 0 {
			return "is an empty object"
		}
		return "has " + strings.Join(names, ", ") + more
	case []any:
		return fmt.Sprintf("is a list of %d", len(v))
	default:
		return "is a single value"
	}
}
