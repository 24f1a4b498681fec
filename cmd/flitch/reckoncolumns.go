package main

import (
	"flitch/cmd/flitch/internal/quantity"
	"flitch/cmd/flitch/internal/reckon"
	"slices"
	"strconv"
	"strings"
)

// carried are columns that are no keys and go through as they are.
var carried = []string{"id", "note"}

// A column is a key, with the units that its head gives to all its plain numbers: one,
// or two for a profile, of the time and of the value. The key of one that is only
// carried is empty.
type column struct {
	key      string
	units    []string
	unitCell int // place of the column that holds the unit, from 1; 0: none
}

// columnUnits are the units a head may end in, after an underline, as one types them
// behind a number.
var columnUnits = map[string]string{
	"c": "C", "f": "F", "k": "K", "mm": "mm", "cm": "cm", "m": "m", "in": "in", "ft": "ft", "mg": "mg", "g": "g", "kg": "kg", "lb": "lb", "oz": "oz",
	"s": "s", "min": "min", "minutes": "min", "h": "h", "hours": "h", "d": "d", "days": "d", "pct": "%", "percent": "%", "frac": part, "fraction": part,
	"pa": "Pa", "hpa": "hPa", "mbar": "mbar", "kpa": "kPa", "ppm": "ppm",
}

// part is the unit of a column of parts, 0 to 1: its head has to say so.
const part = "frac"

// synonyms are other heads for a key, in small letters and without their unit; one with
// a unit behind a colon is always in that unit.
var synonyms = map[string][]string{
	"temp": {"t", "temperature"}, "dry": {"t_db", "dry_bulb", "t"}, "wet": {"wet_bulb"}, "rh": {"relative_humidity"},
	"altitude": {"elevation"}, "pressure": {"p"}, "ice": {"reading_ice"}, "boil": {"reading_boil"}, "humidity": {"w_kg_per_kg"},
	"thickness": {"thickness_or_diameter", "diameter"}, "bath": {"boundary"}, "weight": {"meat", "green_weight"}, "green": {"meat", "green_weight", "weight", "meat_green_mass"},
	"profile": {"series", "air_series"}, "gap": {"gap_max"}, "core": {"t_now"}, "from": {"t_init"}, "air": {"t_air", "t_medium"}, "to": {"t_limit"}, "k": {"k_w_mk"}, "product": {"tp0"},
	"water": {"water_fresh"}, "protein": {"protein_fresh"}, "salt": {"salt_fresh"}, "sucrose": {"sucrose_fresh"},
	"at": {"weighed_at"}, "loss": {"loss_then:frac"}, "target": {"target_loss:frac", "model"}, "end": {"l_inf:frac"},
	"diffusivity": {"dw_m2_s", "alpha_m2_s", "alpha"}, "h": {"h_w_m2k"}, "time": {"days:d", "hours:h", "minutes:min"}, "parts": {"mass_fractions_normalised_to_1"},
	"half-thickness": {"l_or_r", "radius"}, "shape": {"geometry"}, "emission": {"emissivity:frac", "emissivity_f:frac"}, "ref": {"tref"}, "tau-doses": {"doses_tau_fraction"},
	"cure": {"source_mass"}, "pickle": {"pickle_mass"}, "pump": {"pump_or_pickup"},
}

// columnsOf reads heads such as "thickness", "thickness [mm]", "thickness_mm" and "T_C".
// Heads that are no key are in unused, to be named: a file of somebody else has more
// columns than questions. A key that is only misspelt is refused.
func columnsOf(head []string, calc reckon.Calculator, say heads) (columns []column, unused []string, err error) {
	if len(head) == 1 && strings.Contains(head[0], ";") {
		return nil, nil, misuse("commas between columns", "the first line has semicolons")
	}
	skip, of := say.skip, map[string]string{}
	names, err := say.rename(head, calc)
	if err != nil {
		return nil, nil, err
	}
	for i, h := range head {
		h = strings.TrimSpace(h)
		c := columnOf(names[i], calc)
		if slices.Contains(skip, h) {
			c.key = ""
		}
		switch earlier, twice := of[c.key]; {
		case c.key == "" && slices.Contains(carried, strings.ToLower(h)):
		case c.key == "" && slices.Contains(skip, h):
			unused = append(unused, h)
		case c.key == "":
			if meant := misspelt(h, calc); meant != "" {
				return nil, nil, misuse(meant, "%s has no key %q", calc.Name, h)
			}
			unused = append(unused, h)
		case twice:
			return nil, nil, misuse("--skip '"+earlier+"' or --skip '"+h+"'", "the columns %q and %q both say %s", earlier, h, c.key)
		default:
			of[c.key] = h
		}
		columns = append(columns, c)
	}
	for _, name := range skip {
		if !slices.ContainsFunc(head, func(h string) bool { return strings.TrimSpace(h) == name }) {
			return nil, nil, misuse("one of "+strings.Join(head, ", "), "--skip: there is no column %q", name)
		}
	}
	if len(of) == 0 {
		return nil, nil, misuse("a first line with keys, as "+strings.Join(calc.KeyNames(), ","), "no column is a key of %s", calc.Name)
	}
	used := unitColumns(names, columns, skip)
	return columns, slices.DeleteFunc(unused, func(h string) bool { return slices.Contains(used, h) }), nil
}

// columnOf finds the key of a head: itself, then without the unit at its end.
func columnOf(head string, calc reckon.Calculator) column {
	name, bracket, inBrackets := strings.Cut(strings.TrimSuffix(head, "]"), "[")
	name = strings.ReplaceAll(strings.ToLower(strings.TrimSpace(name)), "-", "_")
	if inBrackets {
		key, _ := keyOf(name, calc)
		return column{key: key, units: strings.FieldsFunc(bracket, func(r rune) bool { return strings.ContainsRune(" :_,", r) })}
	}
	if key, unit := keyOf(name, calc); key != "" {
		return column{key: key, units: strings.Fields(unit)}
	}
	words := strings.Split(name, "_")
	var units []string
	if at := slices.Index(words, part); at > 0 { // water_frac_fresh
		words, units = slices.Delete(words, at, at+1), []string{part}
	}
	for len(words) > 1 && len(units) < 2 {
		unit, ok := columnUnits[words[len(words)-1]]
		if !ok {
			break
		}
		words, units = words[:len(words)-1], slices.Insert(units, 0, unit)
		if key, _ := keyOf(strings.Join(words, "_"), calc); key != "" {
			return column{key: key, units: units}
		}
	}
	key, _ := keyOf(strings.Join(words, "_"), calc)
	return column{key: key, units: units}
}

// keyOf is the key that a name stands for, with the unit that goes with it.
func keyOf(name string, calc reckon.Calculator) (key, unit string) {
	for _, k := range calc.Keys {
		if strings.ReplaceAll(k.Name, "-", "_") == name {
			return k.Name, ""
		}
	}
	for _, k := range calc.Keys {
		for _, s := range synonyms[k.Name] {
			if also, in, _ := strings.Cut(s, ":"); also == name {
				return k.Name, in
			}
		}
	}
	return "", ""
}

// misspelt is the key that a head is one letter away from.
func misspelt(head string, calc reckon.Calculator) string {
	for _, name := range calc.KeyNames() {
		if len(name) > 3 && reckon.Letters(strings.ToLower(head), name) == 1 {
			return name
		}
	}
	return ""
}

// pairsOfCells makes key=value of a line; an empty cell is a key left out.
func pairsOfCells(columns []column, cells []string) []reckon.Pair {
	var pairs []reckon.Pair
	for i, c := range columns {
		text := strings.TrimSpace(cells[i])
		if text == "" || c.key == "" {
			continue
		}
		if c.unitCell > 0 {
			c.units = []string{strings.TrimSpace(cells[c.unitCell-1])}
		}
		pairs = append(pairs, reckon.Pair{Key: c.key, Text: c.withUnits(text)})
	}
	return pairs
}

// withUnits puts the units of the head behind plain numbers.
func (c column) withUnits(text string) string {
	switch {
	case len(c.units) == 1:
		points := strings.Split(text, "|")
		for i, p := range points {
			points[i] = withUnit(p, c.units[0])
		}
		return strings.Join(points, "|")
	case len(c.units) == 2:
		points := strings.Split(text, "|")
		for i, p := range points {
			if at, v, ok := strings.Cut(p, ":"); ok {
				points[i] = withUnit(at, c.units[0]) + ":" + withUnit(v, c.units[1])
			}
		}
		return strings.Join(points, "|")
	}
	return text
}

func withUnit(text, unit string) string {
	number, has, err := quantity.Split(quantity.WithoutExponent(text))
	if err != nil || has != "" {
		return text
	}
	if unit == part {
		return strconv.FormatFloat(100*number, 'f', -1, 64) + "%"
	}
	return text + unit
}
