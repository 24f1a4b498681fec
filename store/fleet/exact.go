package fleet

import (
	"encoding/hex"
	"strings"
	"unicode/utf8"
)

// escape begins a text that stands in hex.
const escape = `\x`

// exact is the text as PostgreSQL can hold it: a text there has no zero byte and is UTF-8,
// and what a device sent may be neither. One such reading must not stop all that follow.
func exact(text string) string {
	if strings.HasPrefix(text, escape) || strings.IndexByte(text, 0) >= 0 || !utf8.ValidString(text) {
		return escape + hex.EncodeToString([]byte(text))
	}
	return text
}

// original is the way back. What exact does not write comes back as it is.
func original(text string) string {
	rest, escaped := strings.CutPrefix(text, escape)
	if !escaped {
		return text
	}
	b, err := hex.DecodeString(rest)
	if err != nil {
		return text
	}
	return string(b)
}
