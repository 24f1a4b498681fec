package pdf

import (
	"testing"
	"unicode/utf8"

	"pgregory.net/rapid"
)

// The orders are those of the Unicode bidirectional algorithm for a line from the left.
func TestLinesAsTheyAreSeen(t *testing.T) {
	for line, want := range map[string]string{
		"only left":            "only left",
		"שלום":                 "םולש",
		"note: שלום עולם ok":   "note: םלוע םולש ok",
		"שלום (שבת) 12.5 kg":   "12.5 (תבש) םולש kg",
		"12 שלום":              "12 םולש",
		"שלום, 3 pieces":       "3 ,םולש pieces",
		"שבת 10:30-11:15 end":  "10:30-11:15 תבש end",
		"a שלום b עולם c":      "a םולש b םלוע c",
		"מ.כ.":                 "כ.מ.",
		"שָׁלוֹם":              "םוֹלשָׁ",
		"(שלום)":               "(םולש)",
		"brackets [א (ב)] end": "brackets [(ב) א] end",
	} {
		if got := seen(line); got != want {
			t.Errorf("%q is seen as %q, want %q", line, got, want)
		}
	}
}

// The forms are those of the Unicode charts of Arabic presentation forms.
func TestArabicLettersJoin(t *testing.T) {
	for text, want := range map[string]string{
		"ب":       "\ufe8f",
		"ببب":     "\ufe91\ufe92\ufe90",
		"دار":     "\ufea9\ufe8d\ufead", // none of them joins the next
		"سلام":    "\ufeb3\ufefc\ufee1", // lam and alef are one
		"لا":      "\ufefb",
		"بَب":     "\ufe91َ\ufe90", // a mark does not part letters
		"پچگ":     "\ufb58\ufb7d\ufb93",
		"ب ب":     "\ufe8f \ufe8f",
		"latin ب": "latin \ufe8f",
	} {
		if got := string(joined(text)); got != want {
			t.Errorf("%q is written %+q, want %+q", text, got, want)
		}
	}
}

func TestWhatNoFontHasIsSpelledOut(t *testing.T) {
	for text, missing := range map[string]bool{"Ärger Ω Ж Հայ ქართული שלום مرحبا ① ☃": false, "中文": true, "हिन्दी": true, "🔥": true, "ไทย": true} {
		got, was := written(text, light)
		if was != missing {
			t.Errorf("%q became %q, missing %v", text, got, was)
		}
	}
	if got, _ := written("A中", bold); got != "A[U+4E2D]" {
		t.Errorf("got %q", got)
	}
}

// Whatever is typed, every letter that is written has a font, and no line loses any.
func TestEveryLetterHasAFont(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text, _ := written(rapid.String().Draw(t, "text"), light)
		count := 0
		for _, r := range runs(text, light) {
			for _, letter := range r.text {
				if letter != '\n' && letter > 0x7f && fontOf(letter, light) != r.family {
					t.Fatalf("%+q in the font %q", letter, r.family)
				}
				count++
			}
		}
		if want := utf8.RuneCountInString(text); count != want {
			t.Fatalf("%q: %d letters of %d are written", text, count, want)
		}
	})
}
