package process

import (
	"fmt"
	"strings"
	"unicode"
	"unicode/utf8"
)

// What a person may type: proposals, several times what the forms of the page take.
const (
	MostSignature = 64   // bytes of initials, and of a name
	MostWords     = 4000 // characters of a free text
)

// CheckSignature refuses initials that are none: empty, of another length, or with what no
// pen writes. They stand under the record, where they are read and compared.
func CheckSignature(by string) error {
	const hint = "type your initials: T.V."
	switch {
	case strings.TrimSpace(by) == "":
		return refuse("nobody signed", "add your initials: --by T.V.")
	case len(by) > MostSignature:
		return refuse(fmt.Sprintf("the initials are longer than %d bytes", MostSignature), hint)
	case !OneLine(by):
		return refuse(fmt.Sprintf("the initials %+q hold what cannot be read", by), hint)
	}
	return nil
}

// OneLine reports a text in valid UTF-8 without control and format characters: what nobody
// sees makes two names look alike.
func OneLine(text string) bool {
	odd := func(r rune) bool { return unicode.In(r, unicode.Cc, unicode.Cf, unicode.Zl, unicode.Zp) }
	return utf8.ValidString(text) && !strings.ContainsFunc(text, odd)
}

// CheckWords refuses a free text, called name, that is too long or holds what moves a
// terminal or ends a string: all but lines and tabs.
func CheckWords(name, text string) error {
	odd := func(r rune) bool { return unicode.IsControl(r) && r != '\n' && r != '\t' }
	switch {
	case utf8.RuneCountInString(text) > MostWords:
		return refuse(fmt.Sprintf("%s has more than %d characters", name, MostWords), "say it in fewer words, or in several notes")
	case !utf8.ValidString(text):
		return refuse(name+" is not UTF-8", "type it as plain text")
	case strings.ContainsFunc(strings.ReplaceAll(text, "\r\n", "\n"), odd): // forms send \r\n
		return refuse(name+" holds control characters", "type it as plain text: letters, lines and tabs")
	}
	return nil
}

// CheckWording is CheckSignature and CheckWords of all that a person typed into a command.
// It is asked before a command is logged, and not by Check: what is in the log already
// counts as it is.
func CheckWording(c Command) error {
	if err := CheckSignature(c.By); err != nil {
		return err
	}
	for _, name := range c.names() {
		if len(name) > MostSignature || !OneLine(name) {
			return refuse(fmt.Sprintf("the name %+.80q cannot be used", name), fmt.Sprintf("use letters and digits, at most %d bytes", MostSignature))
		}
	}
	for _, said := range c.words() {
		if err := CheckWords("the "+said.Name, said.Text); err != nil {
			return err
		}
	}
	return nil
}

// words are the free texts of a command, each with what it is called.
func (c Command) words() []ActionPart {
	out := []ActionPart{{"text", c.Text}, {"reason", c.Why}, {"subject", c.Of}}
	if c.Action != nil {
		out = append(out, ActionPart{"subject", c.Action.About})
		out = append(out, c.Action.Parts()...)
	}
	if c.Taste != nil {
		out = append(out, ActionPart{"remark for the next time", c.Taste.Next})
	}
	return out
}

// names are those that a new batch gives.
func (c Command) names() (names []string) {
	if c.New == nil {
		return nil
	}
	names = append(names, c.Batch)
	for _, p := range c.New.Pieces {
		names = append(names, p.Name)
	}
	return names
}
