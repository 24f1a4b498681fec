package decode

import (
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"
)

// pointer is a compiled JSON pointer (RFC 6901). The zero pointer is the whole
// document.
type pointer struct {
	text   string
	tokens []string
}

// parsePointer compiles an RFC 6901 pointer: "" or "/a/0/b", with ~0 for "~" and
// ~1 for "/".
func parsePointer(text string) (pointer, error) {
	if text == "" {
		return pointer{}, nil
	}
	if text[0] != '/' {
		return pointer{}, fmt.Errorf("path %q does not start with a slash: write /%s", text, text)
	}
	tokens := strings.Split(text[1:], "/")
	for i, t := range tokens {
		u, err := unescape(t)
		if err != nil {
			return pointer{}, fmt.Errorf("path %q: %w", text, err)
		}
		tokens[i] = u
	}
	return pointer{text: text, tokens: tokens}, nil
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

// find returns what p points at in root.
func (p pointer) find(root any) (any, error) {
	at := root
	for i, token := range p.tokens {
		var next any
		var ok bool
		switch v := at.(type) {
		case map[string]any:
			next, ok = v[token]
		case []any:
			next, ok = element(v, token)
		}
		if !ok {
			return nil, p.missing(at, i)
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

// missing says what was there instead of the i-th step of p.
func (p pointer) missing(at any, i int) *Problem {
	where := "the payload"
	if i > 0 {
		where = quoted("/" + strings.Join(p.tokens[:i], "/"))
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
		return "has " + strings.Join(names, ", ") + more
	case []any:
		return fmt.Sprintf("is a list of %d", len(v))
	default:
		return "is a single value"
	}
}
