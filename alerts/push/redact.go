package push

import (
	"net/url"
	"regexp"
	"strings"
	"unicode"
	"unicode/utf8"
)

const longestText = 300 // characters of a stored answer or error

// address finds web addresses. Everything after the host goes: tokens hide in
// paths, queries and user parts.
var address = regexp.MustCompile(`(?i)(https?)://(?:[^/@\s"']*@)?([^/?#\s"']+)[^\s"']*`)

// redact removes secrets and addresses from text that other programs wrote, makes
// it one line and bounds it.
func redact(text string, secrets []string) string {
	for _, s := range secrets {
		if s == "" {
			continue
		}
		text = strings.NewReplacer(s, "***", url.QueryEscape(s), "***", url.PathEscape(s), "***").Replace(text)
	}
	text = address.ReplaceAllString(text, "$1://$2/...")
	words := strings.FieldsFunc(strings.ToValidUTF8(text, "?"), func(r rune) bool { return unicode.IsSpace(r) || unicode.IsControl(r) })
	return shorten(strings.Join(words, " "), longestText)
}

// shorten cuts text to a number of characters, zero for no limit, and shows that
// it did.
func shorten(text string, limit int) string {
	if limit <= 0 || utf8.RuneCountInString(text) <= limit {
		return text
	}
	return string([]rune(text)[:limit-1]) + "…"
}

// shortenBody cuts the middle out of a body that ends with a line of its own for
// the link to answer with: half an address is none.
func shortenBody(text string, limit int) string {
	cut := strings.LastIndexByte(text, '\n')
	last := text[cut+1:]
	room := limit - 1 - utf8.RuneCountInString(last)
	if cut < 0 || room < 1 || !strings.Contains(last, "://") || utf8.RuneCountInString(text) <= limit {
		return shorten(text, limit)
	}
	return shorten(text[:cut], room) + "\n" + last
}
