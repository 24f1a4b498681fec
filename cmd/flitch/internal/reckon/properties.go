package reckon

import (
	"strings"

	"flitch/cmd/flitch/internal/plain"
	"flitch/process/heat"
)

func meatProperties() Calculator {
	return Calculator{
		Name: "properties", Help: "Density, heat capacity, conductivity and diffusivity of meat, by what it is made of.",
		Example: "temp=4C water=72.6% protein=21.1% fat=5% ash=1.1%",
		Keys: []Key{
			{Name: "temp", Help: "-40 to 150 °C, not frozen", Read: readTemperature, Needed: true},
			{Name: "water", Help: "of the weight", Read: readPercent},
			{Name: "protein", Help: "of the weight", Read: readPercent},
			{Name: "fat", Help: "of the weight", Read: readPercent},
			{Name: "carbohydrate", Help: "of the weight", Read: readPercent},
			{Name: "fibre", Help: "of the weight", Read: readPercent},
			{Name: "ash", Help: "minerals and salt, of the weight", Read: readPercent},
			{Name: "parts", Help: "or all of them as parts of 1", Read: readParts},
		},
		work: func(g given) (Answer, error) {
			if err := g.only("water", "parts"); err != nil {
				return Answer{}, err
			}
			c := heat.Composition{Water: g.number("water"), Protein: g.number("protein"), Fat: g.number("fat"),
				Carbohydrate: g.number("carbohydrate"), Fibre: g.number("fibre"), Ash: g.number("ash")}
			if g.has("parts") {
				c, _ = partsOf(g.word("parts")) // the reader takes only what can be read
			}
			p, ok := c.At(g.number("temp"))
			if !ok {
				return Answer{}, misuse("water=72.6% protein=21.1% fat=5% ash=1.1%", "the parts do not come to 100 %%, within 5 %%, or the temperature is not -40 to 150 °C")
			}
			a := Answer{Model: "Choi and Okos, parts mixed by mass and by volume", Source: "Choi and Okos 1986 (read in four copies that agree)",
				Uncertainty: "some 5 % for meat (judgement); water is taken as liquid, so not for frozen meat"}
			a.add("density", p.Density, "kg/m³")
			a.add("heat capacity", p.HeatCapacity, "J/(kg K)")
			a.add("conductivity", p.Conductivity, "W/(m K)")
			a.add("diffusivity", p.Diffusivity()*1e7, "1e-7 m²/s")
			a.note("parts are divided by their sum")
			return a, nil
		},
	}
}

var readParts = Reader{Example: "water=0.73;protein=0.21;fat=0.05;ash=0.01", value: func(text string) (value, error) {
	_, err := partsOf(text)
	return value{word: text}, err
}}

// partsOf reads "water=0.73;protein=0.21".
func partsOf(text string) (c heat.Composition, err error) {
	into := map[string]*float64{"water": &c.Water, "protein": &c.Protein, "fat": &c.Fat, "carbohydrate": &c.Carbohydrate, "carb": &c.Carbohydrate, "fibre": &c.Fibre, "ash": &c.Ash}
	for one := range strings.SplitSeq(text, ";") {
		name, number, _ := strings.Cut(one, "=")
		part, known := into[strings.TrimSpace(name)]
		if !known {
			return c, misuse("water, protein, fat, carbohydrate, fibre or ash", "there is no part %q", name)
		}
		if *part, known = plain.Number(strings.TrimSpace(number)); !known || !(*part >= 0 && *part <= 1) {
			return c, misuse("water=0.73;protein=0.21;fat=0.05;ash=0.01", "%q is not a part of 1", one)
		}
	}
	return c, nil
}
