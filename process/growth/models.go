package growth

import "math"

// entry is a model with what conditions do to its scale; nil for no conditions.
type entry struct {
	Model
	factor func(Conditions) float64
}

const (
	perfringens = "Clostridium perfringens"
	aureus      = "Staphylococcus aureus"
	listeria    = "Listeria monocytogenes"
	salmonella  = "Salmonella"
)

// The lags of C. perfringens are published as q0, the state of the cells at the
// start: h0 = ln(1 + 1/q0).
var (
	beefLag    = math.Log1p(1 / 0.0699)
	chickenLag = math.Log1p(1 / 0.0105)
	porkLag    = math.Log1p(1 / 0.0137)
)

const (
	juneja2011 = "Juneja, Marks, Huang, Thippareddi 2011, Food Microbiol. 28:791; read in a public model repository"
	replicates = 1 // log: replicate trials of C. perfringens in cooling, J. Food Prot. 68(2), 2005, abstract, seen
)

// models are all that New knows, with what was read and what is a choice.
//
// The units of the repository are not stated there; they were found by comparing
// with published predictions. CP_BEEF, CP_CHICKEN and CP_PORK are decimal units
// per hour, so their scale carries ln 10; CP_CURED is in natural units.
var models = []entry{
	{Model: Model{
		Code: "CP_BEEF", Organism: perfringens, Food: "cooked beef without nitrite; also when the species is not known",
		FromC: 10.15, ToC: 53, law: law{shape: squareRoot, scale: math.Ln10 * 0.050 * 0.050, min: 10.15, c: 0.238, max: 53},
		Decides:   Lag{H0: beefLag, Name: "central", Source: juneja2011 + " (entry 1160, q0 0.0699)", Provenance: "seen"},
		SpreadLog: replicates, Bands: PerfringensBands(), Source: juneja2011 + " (entry 1157)", Provenance: "seen",
	}},
	{Model: Model{
		Code: "CP_CHICKEN", Organism: perfringens, Food: "cooked chicken without nitrite",
		FromC: 9.74, ToC: 52.1, law: law{shape: squareRoot, scale: math.Ln10 * 0.048 * 0.048, min: 9.74, c: 0.208, max: 52.1},
		Decides:   Lag{H0: chickenLag, Name: "central", Source: juneja2011 + " (entry 1161, q0 0.0105)", Provenance: "seen"},
		SpreadLog: replicates, Bands: PerfringensBands(), Source: juneja2011 + " (entry 1158)", Provenance: "seen",
	}},
	{Model: Model{
		Code: "CP_PORK", Organism: perfringens, Food: "cooked pork without nitrite",
		FromC: 10.69, ToC: 52.8, law: law{shape: squareRoot, scale: math.Ln10 * 0.047 * 0.047, min: 10.69, c: 0.252, max: 52.8},
		Decides:   Lag{H0: porkLag, Name: "central", Source: juneja2011 + " (entry 1162, q0 0.0137)", Provenance: "seen"},
		SpreadLog: replicates, Bands: PerfringensBands(), Source: juneja2011 + " (entry 1159)", Provenance: "seen",
	}},
	{Model: Model{
		Code: "CP_CURED", Organism: perfringens, Food: "pork ham with nitrite and erythorbate",
		FromC: 13.5, ToC: 50.6, law: law{shape: squareRoot, scale: 0.00243, min: 13.5, c: 0.41, max: 50.6},
		Decides: Lag{H0: porkLag, Name: "central",
			Source:     "choice of this project: the published lag was not read; this one puts the slow chill of product with nitrite at its 1-log standard",
			Provenance: "proposal"},
		Beside: Lag{H0: beefLag, Name: "upper bound",
			Source: "choice of this project: the shortest published lag in meat", Provenance: "proposal"},
		SpreadLog: replicates, Bands: PerfringensBands(),
		Source:     "Juneja, Huang, Thippareddi 2006, Int. J. Food Microbiol. 110:85; end temperatures read in the abstract, the rest in a public model repository (entry 269)",
		Provenance: "seen",
		Note:       "only for product with at least 100 ppm ingoing nitrite and ascorbate or erythorbate; the dose itself is not in the model",
	}},
	{factor: leMarcFactor, Model: Model{
		Code: "CP_LM08", Organism: perfringens, Food: "bulk meat by salt and pH",
		FromC: 15, ToC: 52, law: law{shape: squareRoot, scale: 7.45, min: 12.20, c: 0.095, max: 54.47},
		Decides: Lag{H0: porkLag, Name: "central",
			Source: "choice of this project: the published lag was not read; that of pork is used", Provenance: "proposal"},
		SpreadLog: replicates, Bands: PerfringensBands(),
		Source:     "Le Marc et al. 2008, Int. J. Food Microbiol. 128:41; read in a public model repository (entry 1317); no change above pH 6.25 from memory",
		Provenance: "seen",
		Note:       "made for 0.5 to 4 % salt in the water phase and pH 5.0 to 6.25",
	}},
	{factor: aureusFactor, Model: Model{
		Code: "SA_CM", Organism: aureus, Food: "raw or warming meat, by water activity",
		FromC: 7, ToC: 48, law: law{shape: cardinal, scale: 1.97, min: 7.7, opt: 40.6, max: 46.7, worst: 40.6},
		Decides: Lag{Name: "no lag", Source: "choice of this project: strictest", Provenance: "proposal"},
		Beside:  Lag{H0: 3, Name: "likely", Source: "choice of this project", Provenance: "proposal"},
		Bands:   AureusBands(),
		Source:  "Medveďová et al. 2019, Ital. J. Food Saf. 8:8287, cardinal temperatures read; the square term in water activity is a simplification of this project", Provenance: "seen",
		Note: "predicts far more than was found in raw pork with its own flora",
	}},
	{factor: listeriaFactor, Model: Model{
		Code: "LM_GAMMA", Organism: listeria, Food: "ready-to-eat meat",
		FromC: -0.4, ToC: 45, law: law{shape: openSquareRoot, scale: 0.419 / (27.83 * 27.83), min: -2.83, max: math.Inf(1), worst: 45},
		Decides: Lag{Name: "no lag", Source: "choice of this project: strictest", Provenance: "proposal"},
		Beside:  Lag{H0: 3.12, Name: "likely", Source: "relative lag time 4.5, recalled", Provenance: "memory"},
		Bands:   ListeriaBands(),
		Source:  "Mejlholm et al. 2010, Int. J. Food Microbiol. 141:137, without its interaction factor; read in a public model repository (entry 317)", Provenance: "seen",
		Note: "without the interaction factor it predicts more growth; nitrite is what is left in the product, not what went in",
	}},
	{Model: Model{
		Code: "LM_HAM", Organism: listeria, Food: "sliced cooked ham with nitrite, in vacuum",
		FromC: 4, ToC: 16, law: law{shape: openSquareRoot, scale: math.Ln10 * 0.058 * 0.058 / 24, min: -1.03, max: math.Inf(1), worst: 45},
		Decides: Lag{Name: "no lag", Source: "choice of this project: strictest", Provenance: "proposal"}, Bands: ListeriaBands(),
		Source: "Mataragas et al. 2006, J. Food Prot. 69; read in a public model repository (entry 253)", Provenance: "seen",
	}},
	{Model: Model{
		Code: "SAL_CTMI", Organism: salmonella, Food: "cooked chicken (S. Typhimurium)",
		FromC: 5.699, ToC: 49.26, law: law{shape: cardinal, scale: math.Ln10 * 0.7320, min: 5.699, opt: 40.01, max: 49.26, worst: 40.01},
		Decides: Lag{Name: "no lag", Source: "choice of this project: strictest", Provenance: "proposal"}, Bands: SalmonellaBands(),
		Source: "Oscar 2002, Int. J. Food Microbiol. 76:177; read in a public model repository (entry 1450)", Provenance: "seen",
	}},
	{Model: Model{
		Code: "SAL_PORK", Organism: salmonella, Food: "fresh pork",
		FromC: 2.33, ToC: 38, law: law{shape: openSquareRoot, scale: 0.0356 * 0.0356, min: 2.33, max: math.Inf(1), worst: 46.2},
		Decides: Lag{Name: "no lag", Source: "choice of this project: strictest", Provenance: "proposal"}, Bands: SalmonellaBands(),
		Source: "Møller et al. 2013, Food Microbiol. 34:284; read in a public model repository (entry 355)", Provenance: "seen",
		Note: "for use up to 38 °C; above, it predicts growth that does not happen",
	}},
}
