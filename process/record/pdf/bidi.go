package pdf

import (
	"slices"
	"strings"

	"golang.org/x/text/unicode/bidi"
)

// seen puts a line into the order in which it is seen from left to right. It is a line of
// a text that is written from the left, with names and words of scripts that are written
// from the right in it: the part of the Unicode bidirectional algorithm that this needs,
// without its control characters, which record.Printable has spelled out.
func seen(line string) string {
	text := []rune(line)
	for i := 0; i < len(text); {
		if !fromRight(text[i]) {
			i++
			continue
		}
		end := stretchOf(text, i)
		slices.Reverse(text[i:end])
		forward(text[i:end])
		i = end
	}
	return string(text)
}

func class(r rune) bidi.Class {
	p, _ := bidi.LookupRune(r)
	return p.Class()
}

func fromRight(r rune) bool { c := class(r); return c == bidi.R || c == bidi.AL }

func digit(r rune) bool { c := class(r); return c == bidi.EN || c == bidi.AN }

// stretchOf is the end of what is written from the right: it ends with its last letter or
// number, before the next letter that is written from the left, and with the brackets that
// close what was opened in it.
func stretchOf(text []rune, from int) (end int) {
	for i := from; i < len(text) && class(text[i]) != bidi.L; i++ {
		if fromRight(text[i]) || digit(text[i]) || class(text[i]) == bidi.NSM {
			end = i + 1
		}
	}
	for end < len(text) && closes(text[from:end], text[end]) {
		end++
	}
	return end
}

// closes reports a bracket whose partner is open in a text.
func closes(text []rune, bracket rune) bool {
	at := strings.IndexRune(brackets, bracket)
	if at < 0 || at%2 == 0 {
		return false
	}
	open := 0
	for _, r := range text {
		switch r {
		case rune(brackets[at-1]):
			open++
		case bracket:
			open--
		}
	}
	return open > 0
}

// forward turns round again what stays from left to right in a reversed stretch: numbers,
// and the marks behind their letters. Brackets are mirrored.
func forward(text []rune) {
	for i := 0; i < len(text); {
		end := i + 1
		switch {
		case digit(text[i]):
			for end < len(text) && (digit(text[end]) || end+1 < len(text) && strings.ContainsRune(".,:/-", text[end]) && digit(text[end+1])) {
				end++
			}
			slices.Reverse(text[i:end])
		case class(text[i]) == bidi.NSM:
			for end < len(text) && class(text[end]) == bidi.NSM {
				end++
			}
			if end < len(text) {
				end++
			}
			slices.Reverse(text[i:end])
		default:
			if at := strings.IndexRune(brackets, text[i]); at >= 0 {
				text[i] = rune(brackets[at^1])
			}
		}
		i = end
	}
}

// brackets are pairs.
const brackets = "()[]{}<>"
