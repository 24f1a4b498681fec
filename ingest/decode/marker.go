package decode

import (
	"maps"
	"slices"
	"strconv"
	"strings"
)

// markers are members by which devices name the elements of a list. Common practice,
// no source.
var markers = [...]string{"ch", "channel", "id", "sensorid", "sensor", "probe", "address", "addr", "mac", "name"}

// marker returns the member by which the elements of a list can be told apart, or "": a
// list may come in another order tomorrow, and an index would then be another probe.
func marker(list []any) string {
	if len(list) == 0 {
		return ""
	}
	first, ok := list[0].(map[string]any)
	if !ok {
		return ""
	}
	names := slices.Sorted(maps.Keys(first))
	for _, want := range markers {
		for _, name := range names {
			if strings.EqualFold(name, want) && tellsApart(list, name) {
				return name
			}
		}
	}
	return ""
}

// tellsApart reports whether every element of the list is an object with its own text
// or number there.
func tellsApart(list []any, name string) bool {
	seen := map[string]bool{}
	for _, e := range list {
		object, ok := e.(map[string]any)
		if !ok {
			return false
		}
		text, ok := plainText(object[name])
		if !ok || seen[text] || len(text) > digitsMax {
			return false
		}
		seen[text] = true
	}
	return true
}

// stepTo is the step of a pointer to the i-th element: by its marker, if there is one.
func stepTo(list []any, i int, by string) string {
	if by == "" {
		return strconv.Itoa(i)
	}
	text, _ := plainText(list[i].(map[string]any)[by])
	return escape("[" + by + "=" + text + "]")
}
