package pdf

import (
	"fmt"
	"strings"
	"sync"

	"codeberg.org/go-fonts/dejavu/dejavusans"
	"codeberg.org/go-fonts/dejavu/dejavusansbold"
	"codeberg.org/go-fonts/liberation/liberationsansbold"
	"codeberg.org/go-fonts/liberation/liberationsansregular"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/text/unicode/norm"
)

// The fonts by the name the PDF library knows them by, and their weight.
const (
	first  = "first"  // Liberation Sans: what the graph is lettered for
	second = "second" // DejaVu Sans: for the letters the first has none for
	light  = ""
	bold   = "B"
)

var fontFiles = []struct {
	family, weight string
	ttf            []byte
}{
	{first, light, liberationsansregular.TTF}, {first, bold, liberationsansbold.TTF},
	{second, light, dejavusans.TTF}, {second, bold, dejavusansbold.TTF},
}

// has is for each font and weight whether it has a letter.
var has = sync.OnceValue(func() map[string]func(rune) bool {
	all := map[string]func(rune) bool{}
	for _, f := range fontFiles {
		font, err := sfnt.Parse(f.ttf)
		if err != nil {
			continue // no letter is taken from a font that cannot be read
		}
		all[f.family+f.weight] = func(r rune) bool {
			index, err := font.GlyphIndex(nil, r)
			return err == nil && index != 0
		}
	}
	return all
})

// A run is a piece of a line in one font.
type run struct{ family, text string }

// fontOf is the font that has a letter; empty when none has. The PDF library cannot write
// letters beyond the basic plane.
func fontOf(r rune, weight string) string {
	if r > 0xffff {
		return ""
	}
	for _, family := range []string{first, second} {
		if have := has()[family+weight]; have != nil && have(r) {
			return family
		}
	}
	return ""
}

// written is a text as the paper can write it: composed, letters joined as Arabic joins
// them, and what no font has spelled out. Missing reports whether anything was.
func written(text, weight string) (out string, missing bool) {
	if ascii(text) {
		return text, false
	}
	var b strings.Builder
	for _, r := range joined(norm.NFC.String(text)) {
		switch {
		case r == '\n':
			b.WriteRune(r)
		case r == 0x200c || r == 0x200d || r == 0x00ad: // joiners are not seen
		case fontOf(r, weight) == "":
			fmt.Fprintf(&b, "[U+%04X]", r)
			missing = true
		default:
			b.WriteRune(r)
		}
	}
	return b.String(), missing
}

func ascii(text string) bool {
	for i := range len(text) {
		if text[i] >= 0x80 {
			return false
		}
	}
	return true
}

// runs cuts a line, in the order it is seen, into pieces of one font.
func runs(line, weight string) (all []run) {
	if ascii(line) {
		return []run{{first, line}}
	}
	for _, r := range seen(line) {
		family := fontOf(r, weight)
		if n := len(all) - 1; n >= 0 && all[n].family == family {
			all[n].text += string(r)
			continue
		}
		all = append(all, run{family, string(r)})
	}
	return all
}
