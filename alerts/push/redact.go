package push

import (
	"cmp"
	"encoding/base64"
	"encoding/hex"
	"encoding/json"
	"net/url"
	"regexp"
	"slices"
	"strconv"
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
	var all []string
	for _, s := range secrets {
		if s != "" {
			all = append(all, spellings(s)...)
		}
	}
	slices.SortFunc(all, func(a, b string) int { return cmp.Compare(len(b), len(a)) }) // one may be a part of another
	for _, written := range all {
		text = strings.ReplaceAll(text, written, "***")
	}
	text = address.ReplaceAllString(text, "$1://$2/...")
	words := strings.FieldsFunc(strings.ToValidUTF8(text, "?"), func(r rune) bool { return unicode.IsSpace(r) || unicode.IsControl(r) })
	return shorten(strings.Join(words, " "), longestText)
}

// spellings are how another program may write a secret that it was sent: as it is, in an
// address, in JSON, and in the base64 of a header, where it begins at any of three places.
func spellings(secret string) []string {
	all := []string{secret, url.QueryEscape(secret), url.PathEscape(secret), strings.Trim(strconv.Quote(secret), `"`), hex.EncodeToString([]byte(secret))}
	if quoted, err := json.Marshal(secret); err == nil {
		all = append(all, strings.Trim(string(quoted), `"`))
	}
	for before := range 3 {
		for _, code := range []*base64.Encoding{base64.StdEncoding, base64.URLEncoding} {
			whole := code.EncodeToString(append(make([]byte, before), secret...))
			if len(whole) >= 8+shortestToken { // without the ends, in which its neighbours have part
				all = append(all, whole[4*min(before, 1):len(whole)-4])
			}
		}
	}
	return all
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
