package record

import (
	"fmt"
	"strings"
	"unicode"
	"unicode/utf8"
)

// Printable spells out what cannot be seen, so that no text of a person hides, moves or
// breaks what stands beside it: control characters and the marks that turn the direction
// of writing become U+202E and the like, bytes that are no text become U+FFFD. Line
// breaks stay, a tab is a space. Letters of every script are left as they are.
func Printable(text string) string {
	if plainASCII(text) {
		return text
	}
	var b strings.Builder
	for _, r := range strings.ReplaceAll(text, "\r\n", "\n") {
		switch {
		case r == '\n' || r == 0x2028 || r == 0x2029:
			b.WriteByte('\n')
		case r == '\t':
			b.WriteByte(' ')
		case r == utf8.RuneError || hidden(r):
			fmt.Fprintf(&b, "[U+%04X]", r)
		default:
			b.WriteRune(r)
		}
	}
	return b.String()
}

func plainASCII(text string) bool {
	for i := range len(text) {
		if c := text[i]; c < ' ' || c > '~' {
			return false
		}
	}
	return true
}

// hidden are controls and formats, but for the joiners that some scripts are written with,
// and all that stands for no letter.
func hidden(r rune) bool {
	if r == 0x200c || r == 0x200d || r == 0x00ad {
		return false
	}
	return unicode.In(r, unicode.Cc, unicode.Cf, unicode.Co, unicode.Cs) || r&0xfffe == 0xfffe
}

// oneLine is Printable for a table in which a line is a row.
func oneLine(text string) string { return strings.ReplaceAll(Printable(text), "\n", " ") }
