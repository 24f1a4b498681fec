package decode

import (
	"encoding/json"
	"maps"
	"slices"
	"strconv"
	"strings"
)

// MaxFound is how many values of one payload are listed; proposal, a blob of a house
// with every probe in it has a few dozen.
const MaxFound = 64

// A Found is one value of a payload that a mapping could point at.
type Found struct {
	Pointer string     `json:"pointer"`          // JSON pointer (RFC 6901); "" is the whole payload
	Text    string     `json:"text"`             // as it was sent, at most 64 bytes
	Number  float64    `json:"number"`           // 0 when it is a time or has none
	Kind    FoundKind  `json:"kind"`             // what it can be used as
	Format  TimeFormat `json:"format,omitempty"` // of a time
	// How it has to be declared, if it is not a number as it stands: as in Spec.
	UnitAt  string `json:"unit_at,omitempty"`
	Decimal string `json:"decimal,omitempty"`
	// The list of stored readings it is of: Pointer leads into its first one.
	Each string `json:"each,omitempty"`
	// Where a unit of temperature stands beside it or above, as of "TempUnit": "F".
	UnitBeside string `json:"unit_beside,omitempty"`
}

// Within is the pointer as a mapping has it: from a reading of the list, if there is one.
func (f Found) Within() string {
	if f.Each == "" {
		return f.Pointer
	}
	return strings.TrimPrefix(f.Pointer, f.Each+"/0")
}

// FoundKind is what a value can be used as.
type FoundKind string

// The kinds. A dead sensor often sends null where its number will be.
const (
	FoundNumber  FoundKind = "number"
	FoundTime    FoundKind = "time"
	FoundNothing FoundKind = "nothing" // null: perhaps a number later
)

// Find lists the numbers, times and empty places of a payload, names in order of the
// alphabet, and how many more there were. The error says why it cannot be read; a
// payload without any is no error.
func Find(payload []byte) (found []Found, more int, err error) {
	doc, err := Open(payload)
	if err != nil {
		return nil, 0, err
	}
	bare := strings.TrimSpace(string(payload))
	if !looksJSON([]byte(bare)) {
		if one, ok := declared(bare); ok {
			return []Found{one}, 0, nil
		}
		_, err := number(bare, "payload")
		return nil, 0, err
	}
	root, err := doc.json()
	if err != nil {
		return nil, 0, err
	}
	f := finder{}
	f.walk("", root, Found{})
	return f.found, f.more, nil
}

// A finder gathers the leaves of a document.
type finder struct {
	found []Found
	more  int
}

// walk knows in around what holds for all that is below: list and unit.
func (f *finder) walk(at string, v any, around Found) {
	switch v := v.(type) {
	case map[string]any:
		names := slices.Sorted(maps.Keys(v))
		for _, name := range names {
			if text, ok := v[name].(string); ok && around.Each == "" && isUnit(name, text) {
				around.UnitBeside = at + "/" + escape(name)
				break
			}
		}
		for _, name := range names {
			f.walk(at+"/"+escape(name), v[name], around)
		}
	case []any:
		if at != "" && around.Each == "" && areStored(v) {
			f.walk(at+"/0", v[0], Found{Each: at}) // the others are the same, of other times
			return
		}
		by := marker(v)
		for i, item := range v {
			f.walk(at+"/"+stepTo(v, i, by), item, around)
		}
	default:
		f.leaf(at, v, around)
	}
}

// isUnit reports a member that says in which unit temperatures are. A "C" by another
// name may be the sign of anything.
func isUnit(name, text string) bool {
	if !strings.Contains(strings.ToLower(name), "unit") {
		return false
	}
	_, ok := UnitOf(text)
	return ok
}

// areStored reports a list of readings of one sensor, each with its own time.
func areStored(list []any) bool {
	for _, e := range list {
		object, _ := e.(map[string]any)
		times, numbers := 0, 0
		for _, v := range object {
			switch leaf, ok := judge(v); {
			case ok && leaf.Kind == FoundTime:
				times++
			case ok:
				numbers++
			}
		}
		if times == 0 || numbers == 0 {
			return false
		}
	}
	return len(list) > 0 && marker(list) == ""
}

func (f *finder) leaf(at string, v any, around Found) {
	leaf, ok := judge(v)
	switch {
	case !ok:
	case len(f.found) == MaxFound:
		f.more++
	default:
		leaf.Pointer, leaf.Each, leaf.UnitBeside = at, around.Each, ""
		if leaf.Kind != FoundTime && leaf.UnitAt == "" {
			leaf.UnitBeside = around.UnitBeside
		}
		f.found = append(f.found, leaf)
	}
}

// judge says what one leaf can be used as; ok is false for words and switches.
func judge(v any) (Found, bool) {
	if v == nil {
		return Found{Text: "null", Kind: FoundNothing}, true
	}
	text, ok := v.(string)
	if n, isNumber := v.(json.Number); isNumber {
		text, ok = n.String(), true
	}
	if !ok || len(text) > digitsMax {
		return Found{}, false
	}
	if found, ok := declared(text); ok {
		return found, true
	}
	if _, _, err := deviceTime(v, AutoTime, nil); err != nil {
		return Found{}, false
	}
	return Found{Text: text, Kind: FoundTime, Format: formatOf(text)}, true
}

// declared reads a text as a number, if need be with a unit behind it or a decimal comma.
func declared(text string) (Found, bool) {
	trimmed := strings.TrimSpace(text)
	for _, n := range [...]numeral{{}, {behind: true}, {comma: true}, {behind: true, comma: true}} {
		sent, _, err := n.text(trimmed, "")
		if err != nil {
			continue
		}
		found := Found{Text: text, Number: sent, Kind: FoundNumber}
		if n.behind {
			found.UnitAt = Behind
		}
		if n.comma {
			found.Decimal = ","
		}
		return found, true
	}
	return Found{}, false
}

// formatOf names the format of a time that AutoTime has read.
func formatOf(text string) TimeFormat {
	n, err := strconv.ParseFloat(text, 64)
	switch {
	case err != nil:
		return RFC3339
	case n < secondsTo:
		return Unix
	}
	return UnixMS
}

// escape writes a name as a part of a pointer (RFC 6901, 3).
func escape(name string) string {
	return strings.ReplaceAll(strings.ReplaceAll(name, "~", "~0"), "/", "~1")
}
