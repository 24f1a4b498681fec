package web

import (
	"slices"
	"strings"
)

// marks tell beside which field of which form a slip is shown. The zero value marks none.
type marks struct {
	sent string // path the form went to
	slip
}

// In is what is wrong with a field of the form that goes to a path.
func (m marks) In(path, field string) besideField {
	b := besideField{Field: strings.TrimPrefix(path, "/") + "-" + field}
	if m.sent == path && m.field == field {
		b.Text = m.text
	}
	return b
}

// taps are what the buttons send that have only the initials beside them.
var taps = []string{"/turned", "/stage", "/acknowledge", "/close", "/unit", "/wood"}

// Tap is what is wrong with the initials beside the buttons.
func (m marks) Tap() besideField {
	b := besideField{Field: "tap-by"}
	if m.field == "by" && slices.Contains(taps, m.sent) {
		b.Text = m.text
	}
	return b
}

// whoOf is the page with what is wrong with the initials of one of its forms.
type whoOf struct {
	page
	By besideField
}
