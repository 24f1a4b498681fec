package scenario

import (
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"
)

// A word of a line. A quoted one may hold spaces and is never a word of the language.
type word struct {
	text   string
	quoted bool
}

// words are the words of one line that were not yet read.
type words struct{ left []word }

// split cuts a line into words.
func split(line string) (words, error) {
	var out []word
	for line = strings.TrimSpace(line); line != ""; line = strings.TrimSpace(line) {
		if line[0] != '"' {
			end := strings.IndexAny(line, " \t\"")
			if end < 0 {
				end = len(line)
			}
			out, line = append(out, word{text: line[:end]}), line[end:]
			continue
		}
		quoted, err := strconv.QuotedPrefix(line)
		if err != nil {
			return words{}, wrong(`"text" with a second quotation mark`, "a quotation mark that is not closed")
		}
		text, err := strconv.Unquote(quoted)
		if err != nil || !utf8.ValidString(text) {
			return words{}, wrong(`plain text between the marks`, "%s cannot be read", quoted)
		}
		out, line = append(out, word{text, true}), line[len(quoted):]
	}
	return words{out}, nil
}

func (w *words) empty() bool { return len(w.left) == 0 }

// is reports whether the next word is this one of the language, and takes it.
func (w *words) is(text string) bool {
	if len(w.left) == 0 || w.left[0].quoted || w.left[0].text != text {
		return false
	}
	w.left = w.left[1:]
	return true
}

// peek is the next word, unquoted; empty when there is none.
func (w *words) peek() string {
	if len(w.left) == 0 || w.left[0].quoted {
		return ""
	}
	return w.left[0].text
}

// next takes a word of the language.
func (w *words) next(what, example string) (string, error) {
	if len(w.left) == 0 {
		return "", wrong(example, "%s is missing", what)
	}
	if w.left[0].quoted {
		return "", wrong(example, "%q where %s should be", w.left[0].text, what)
	}
	text := w.left[0].text
	w.left = w.left[1:]
	return text, nil
}

// free takes free text: quoted, or one plain word.
func (w *words) free(what, example string) (string, error) {
	if len(w.left) == 0 {
		return "", wrong(example, "%s is missing", what)
	}
	text := w.left[0].text
	w.left = w.left[1:]
	return text, nil
}

// want takes one certain word.
func (w *words) want(text, example string) error {
	if w.is(text) {
		return nil
	}
	got, err := w.next(strconv.Quote(text), example)
	if err != nil {
		return err
	}
	return wrong(example, "%q where %q should be", got, text)
}

// end complains about what is left over.
func (w *words) end() error {
	if len(w.left) == 0 {
		return nil
	}
	return wrong("the line without it", "%q is too much", w.left[0].text)
}

// longestPlain is how many letters a name, or a word that needs no marks, may have.
const longestPlain = 60

// isPlain reports letters and digits of any script, and after the first of them points,
// dashes and low lines. It is no regular expression: one over all letters holds over a
// megabyte, in a daemon that reads no scenario.
func isPlain(text string) bool {
	n := 0
	for _, r := range text {
		n++
		if !unicode.IsLetter(r) && !unicode.Is(unicode.N, r) && (n == 1 || !strings.ContainsRune("._-", r)) {
			return false
		}
	}
	return n > 0 && n <= longestPlain
}

// name takes a name: letters, digits, points and dashes.
func (w *words) name(what, example string) (string, error) {
	text, err := w.next(what, example)
	if err == nil && !isPlain(text) {
		err = wrong(example, "%s %q: letters, digits, points and dashes only", what, text)
	}
	return text, err
}

// quoteIf writes free text: plain when it is one word.
func quoteIf(text string) string {
	if isPlain(text) {
		return text
	}
	return strconv.Quote(text)
}
