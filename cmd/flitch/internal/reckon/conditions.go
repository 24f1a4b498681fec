package reckon

import (
	"strings"

	"flitch/cmd/flitch/internal/plain"
	"flitch/process/growth"
)

// conditionKeys say what the food is like, besides its temperature.
func conditionKeys() []Key {
	return []Key{
		{Name: "wps", Help: "salt in the water phase", Read: readPercent},
		{Name: "aw", Help: "water activity, instead of wps", Read: readNumber},
		{Name: "ph", Help: "of the product", Read: readNumber},
		{Name: "nitrite", Help: "what is left in the product", Read: readPPM},
		{Name: "phenol", Help: "smoke phenols", Read: readPPM},
		{Name: "conditions", Help: "or all of them in one: aw, pH, nit and phe in ppm", Read: readConditions},
	}
}

func conditionsGiven(g given) (growth.Conditions, error) {
	c := growth.Conditions{
		SaltPct: 100 * g.number("wps"), Aw: g.number("aw"), PH: g.number("ph"), NitritePPM: g.number("nitrite"), PhenolPPM: g.number("phenol"),
	}
	switch {
	case g.has("aw") && g.has("wps"):
		return c, misuse("aw or wps", "aw and wps say the same thing")
	case g.has("conditions") && c != (growth.Conditions{}):
		return c, misuse("conditions=aw=0.985;pH=6.2, or the keys one by one", "conditions and keys of their own say the same thing")
	case g.has("conditions"):
		return conditionsOf(g.word("conditions"))
	}
	return c, nil
}

var readConditions = Reader{Example: "aw=0.985;pH=6.2;nit=60;phe=10", value: func(text string) (value, error) {
	_, err := conditionsOf(text)
	return value{word: text}, err
}}

// conditionsOf reads "aw=0.985;pH=6.2;nit=60".
func conditionsOf(text string) (c growth.Conditions, err error) {
	into := map[string]*float64{"aw": &c.Aw, "ph": &c.PH, "nit": &c.NitritePPM, "phe": &c.PhenolPPM}
	for one := range strings.SplitSeq(text, ";") {
		name, number, _ := strings.Cut(one, "=")
		field, known := into[strings.ToLower(strings.TrimSpace(name))]
		if !known {
			return c, misuse("aw, pH, nit or phe, as in aw=0.985;pH=6.2;nit=60;phe=10", "there is no condition %q", name)
		}
		if *field, known = plain.Number(strings.TrimSpace(number)); !known || !(*field >= 0 && *field < 1e6) {
			return c, misuse("aw=0.985;pH=6.2;nit=60;phe=10", "%q is not a number above zero", one)
		}
	}
	return c, nil
}
