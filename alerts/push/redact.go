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
	text = inWords.ReplaceAllStringFunc(text, func(word string) string {
		if slices.ContainsFunc(secrets, func(s string) bool { return len(s) >= shortestInBase64 && holds(word, s) }) {
			return "***"
		}
		return word
	})
	text = address.ReplaceAllString(text, "$1://$2/...")
	words := strings.FieldsFunc(strings.ToValidUTF8(text, "?"), func(r rune) bool { return unicode.IsSpace(r) || unicode.IsControl(r) })
	return shorten(strings.Join(words, " "), longestText)
}

// inWords finds what may be base64, of either alphabet. What stands before it without a
// blank may be letters of it, too: a slash is one.
var inWords = regexp.MustCompile(`(?:[A-Za-z0-9+/_-]|\\/|%2[BbFf]){4,}=*`)

// oneAlphabet spells base64 as RFC 4648, 4, whether it came from an address or from JSON.
var oneAlphabet = strings.NewReplacer("-", "+", "_", "/", `\/`, "/", "%2B", "+", "%2b", "+", "%2F", "/", "%2f", "/")

// shortestInBase64 is from when on a secret is looked for in base64; three characters are
// the least that anybody could read there.
const shortestInBase64 = 3

// holds reports whether a word is base64 in which the secret stands, as of user:password in
// a header. It may begin at any of four letters of the word. All of the word goes then: the
// letters about a hit hold parts of the secret, too.
func holds(word, secret string) bool {
	letters := oneAlphabet.Replace(strings.TrimRight(word, "="))
	for from := range min(4, len(letters)) {
		part := letters[from:]
		if len(part)%4 == 1 {
			part = part[:len(part)-1] // no byte ends there
		}
		plain, err := base64.RawStdEncoding.DecodeString(part)
		if err == nil && strings.Contains(string(plain), secret) {
			return true
		}
	}
	return false
}

// spellings are how another program may write a secret that it was sent: as it is, in an
// address, in JSON, in hex. Base64 is looked for by holds.
func spellings(secret string) []string {
	all := []string{secret, url.QueryEscape(secret), url.PathEscape(secret), strings.Trim(strconv.Quote(secret), `"`), hex.EncodeToString([]byte(secret))}
	if quoted, err := json.Marshal(secret); err == nil {
		all = append(all, strings.Trim(string(quoted), `"`))
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
