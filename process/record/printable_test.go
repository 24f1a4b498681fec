package record

import (
	"encoding/csv"
	"strings"
	"testing"
	"unicode"
	"unicode/utf8"

	"pgregory.net/rapid"
)

func TestNothingHidesInAText(t *testing.T) {
	for text, want := range map[string]string{
		"plain":              "plain",
		"a\tb\r\nc":          "a b\nc",
		"bell\a null\x00":    "bell[U+0007] null[U+0000]",
		"turned \u202eround": "turned [U+202E]round",
		"isolate \u2066x":    "isolate [U+2066]x",
		"שלום مرحبا 中文 Ω 🔥":  "שלום مرحبا 中文 Ω 🔥",
		"می\u200cخواهم":      "می\u200cخواهم", // written with a joiner
		"\xff\xfe":           "[U+FFFD][U+FFFD]",
		"\ufeffmark":         "[U+FEFF]mark",
	} {
		if got := Printable(text); got != want {
			t.Errorf("%q became %q, want %q", text, got, want)
		}
	}
}

func TestPrintableTextsHoldNoControls(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := Printable(rapid.String().Draw(t, "text"))
		if !utf8.ValidString(text) || strings.ContainsFunc(text, func(r rune) bool { return r != '\n' && unicode.IsControl(r) }) {
			t.Fatalf("%q", text)
		}
		if again := Printable(text); again != text {
			t.Fatalf("%q is made %q the second time", text, again)
		}
	})
}

// No text begins a formula, in a CSV or a sheet, also behind spaces and in wide letters;
// and the quotes are those of Go's own CSV.
func TestNoTextIsAFormula(t *testing.T) {
	for _, text := range []string{"=1+1", "  =1", "\u00a0=1", "＝1", "+1", "-1", "@x", "\t=x", "\r-1"} {
		if !strings.HasPrefix(plain(text), "'") || !strings.HasPrefix(Defused(text), "'") {
			t.Errorf("%q is written as %q, %q", text, plain(text), Defused(text))
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.String().Draw(t, "text")
		line, err := csv.NewReader(strings.NewReader("x," + quoted(plain(text)) + ",x\n")).Read()
		if err != nil || line[1] != plain(text) || strings.Contains(line[1], "\n") {
			t.Fatalf("%q is read back as %q, %v", text, line, err)
		}
		if first := strings.TrimLeftFunc(line[1], unicode.IsSpace); first != "" && strings.ContainsAny(first[:1], "=+-@") {
			t.Fatalf("%q begins a formula", line[1])
		}
	})
}
