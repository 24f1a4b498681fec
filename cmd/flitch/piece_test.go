package main

import (
	"strings"
	"testing"
)

// FuzzPiece: an accepted piece has a name, a weight and a thickness.
func FuzzPiece(f *testing.F) {
	for _, text := range []string{"A:2268g:38mm", "B:5lb:1.5in", ":1g:1mm", "A:1g", "A:2,2kg:38mm", "A:1g:1mm:1"} {
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text string) {
		piece, err := parsePiece(text)
		if err == nil && (piece.Name == "" || !(piece.GreenG > 0) || !(piece.ThicknessMM > 0)) {
			t.Errorf("%q is %+v", text, piece)
		}
		if err != nil && !strings.Contains(err.Error(), "; try: ") {
			t.Errorf("%q: no hint in %v", text, err)
		}
	})
}
