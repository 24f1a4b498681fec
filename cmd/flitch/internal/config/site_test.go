package config

import (
	"strings"
	"testing"
)

// With two people the reviewer is another one, unless the file says otherwise.
func TestWhoReviews(t *testing.T) {
	person := func(initials string) string {
		return "\n[[person]]\nname = \"" + initials + "\"\ninitials = \"" + initials + "\"\n"
	}
	probe := "\n[[place]]\nname = \"alder\"\nkind = \"fridge\"\n\n[[probe]]\nname = \"slow\"\nplace = \"alder\"\nmeasures = \"product\"\ntopic = \"a\"\nunit = \"C\"\n"
	for _, c := range []struct {
		site, persons string
		want          bool
	}{
		{"", "", false}, {"", person("T.V."), false}, {"", person("T.V.") + person("M.O."), true},
		{"reviewer_differs = false\n", person("T.V.") + person("M.O."), false}, {"reviewer_differs = true\n", person("T.V."), true},
	} {
		got, err := parse("x.toml", []byte("[site]\nname = \"x\"\nzone = \"UTC\"\n"+c.site+probe+c.persons), nil, sealedVault())
		if err != nil {
			t.Fatal(err)
		}
		if got.Site.ReviewerDiffers != c.want {
			t.Errorf("%q with %d persons: %v", c.site, strings.Count(c.persons, "person"), got.Site.ReviewerDiffers)
		}
	}
}
