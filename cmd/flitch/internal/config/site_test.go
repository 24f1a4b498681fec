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

// The address of all networks is not one that a phone can open: that is said before it
// stands in a message or a guest link.
func TestALinkThatNobodyCanOpenIsDoubted(t *testing.T) {
	for page, doubted := range map[string]bool{
		"listen = \"0.0.0.0:8411\"\nanonymous = true\n":                                      true,
		"listen = \"[::]:8411\"\nanonymous = true\n":                                         true,
		"listen = \"0.0.0.0:8411\"\nanonymous = true\nlink = \"http://smokehouse.lan:8411\"": false,
		"listen = \"127.0.0.1:8411\"\n":                                                      false,
	} {
		got, err := parse("x.toml", []byte("[site]\nname = \"x\"\nzone = \"UTC\"\n[page]\n"+page+"\n[[place]]\nname = \"alder\"\nkind = \"fridge\"\n\n[[probe]]\nname = \"slow\"\nplace = \"alder\"\nmeasures = \"product\"\ntopic = \"a\"\nunit = \"C\"\n"), nil, sealedVault())
		if err != nil {
			t.Fatal(err)
		}
		if is := got.Doubts != nil && strings.Contains(got.Doubts.Error(), "no phone can open it"); is != doubted {
			t.Errorf("%s: %v", page, got.Doubts)
		}
	}
}
