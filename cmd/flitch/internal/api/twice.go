package api

import (
	"bytes"
	"encoding/json"
	"fmt"
	"strings"
)

// twice returns the first name that an object of a JSON text has two times, in any letters:
// the decoder would take the last and say nothing, and a person may have meant the other.
// What is no JSON has none; the decoder tells of that.
func twice(text []byte) (name string, found bool) {
	d := json.NewDecoder(bytes.NewReader(text))
	d.UseNumber()
	var open []*object
	for {
		t, err := d.Token()
		if err != nil {
			return "", false
		}
		switch delim, _ := t.(json.Delim); delim {
		case '{':
			took(open)
			open = append(open, &object{names: map[string]bool{}, next: true})
			continue
		case '[':
			took(open)
			open = append(open, &object{})
			continue
		case '}', ']':
			open = open[:len(open)-1]
			continue
		}
		if len(open) == 0 {
			continue
		}
		top := open[len(open)-1]
		if !top.next {
			took(open)
			continue
		}
		name := strings.ToLower(fmt.Sprint(t))
		if top.names[name] {
			return fmt.Sprint(t), true
		}
		top.names[name], top.next = true, false
	}
}

// An object is one that is open, or an array, which has no names.
type object struct {
	names map[string]bool
	next  bool // a name comes next
}

// took notes that a value was there.
func took(open []*object) {
	if n := len(open); n > 0 && open[n-1].names != nil {
		open[n-1].next = true
	}
}
