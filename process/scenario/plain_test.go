package scenario

import (
	"regexp"
	"strings"
	"testing"
)

// The test by hand says what the expression that stood there said.
func TestPlainIsWhatItWas(t *testing.T) {
	was := regexp.MustCompile(`^[\pL\pN][\pL\pN._-]{0,59}$`)
	long := strings.Repeat("ä", 60)
	for _, text := range []string{"", "a", "7", ".", "-a", "_a", "a.b", "a-b_c.d", "a b", "ä", "日本", "٣", "Ⅷ", "½", "a\u0301", "a\n", "\xff", "a\xff", "�", "a/b", `a"`, long, long + "a", "a…"} {
		if isPlain(text) != was.MatchString(text) {
			t.Errorf("%q: %v", text, isPlain(text))
		}
	}
}
