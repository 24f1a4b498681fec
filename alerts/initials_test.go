package alerts

import (
	"slices"
	"strings"
	"testing"
)

func TestNearestInitials(t *testing.T) {
	p := Policy{Persons: []Person{{Initials: "T.V."}, {Initials: "M.O."}, {Initials: "J.K."}, {Initials: "M.O.2"}, {Initials: "Ö.K."}}}
	for typed, want := range map[string]string{
		"mo": "M.O. M.O.2 T.V. J.K. Ö.K.", "OM": "M.O. M.O.2 T.V. J.K. Ö.K.", "K.J.": "J.K. Ö.K. T.V. M.O. M.O.2", "ö.k": "Ö.K. J.K. T.V. M.O. M.O.2",
		"": "T.V. M.O. J.K. Ö.K. M.O.2", "?!": "T.V. M.O. J.K. Ö.K. M.O.2", "\xff": "T.V. M.O. J.K. Ö.K. M.O.2", "Z.Z.Z.Z.": "T.V. M.O. J.K. Ö.K. M.O.2",
	} {
		if got := p.Nearest(typed); strings.Join(got, " ") != want {
			t.Errorf("%q: %q, want %q", typed, got, want)
		}
	}
	if got := (Policy{}).Nearest("T.V."); len(got) != 0 {
		t.Errorf("without persons %q", got)
	}
	if !slices.Equal(p.Nearest("x"), p.Nearest("x")) || p.Persons[0].Initials != "T.V." {
		t.Error("the persons were sorted")
	}
}
