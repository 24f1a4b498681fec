package rules

import (
	_ "embed"
	"fmt"
	"strconv"
	"sync"
)

// A HumidityOption is a way to keep the air of a cook moist, so that the surface is
// heated as the core is (FSIS-GD-2021-14, Table 1 p. 26), or the wet bulb early in a
// cook of jerky (p. 27). It is met when the air was moist enough for LeastHours and
// for LeastShare of the cook, so for the longer of the two; WholeCook allows no
// moment without.
//
// LeastRH and LeastWetBulbC are both 0 where no sensor decides (steam, a sealed
// oven): a person says it.
type HumidityOption struct {
	ID             string
	LeastRH        float64 // relative humidity, %; 0 is not asked
	LeastWetBulbC  float64 // whole °F of the source, converted; 0 is not asked
	LeastShare     float64 // of the cook time, 0 to 1
	LeastHours     float64
	WholeCook      bool
	EndpointC      float64 // lowest core to be reached, with its time in the table; 0 is any
	LeastCookHours float64 // the cook lasts at least so long; 0 is any
	Source         string
	Provenance     string // "seen" or "memory"
	Note           string // what else it says, in words; not computed
}

//go:embed humidity.csv
var humidityTable string

// humidities reads humidity.csv once; nobody changes what it returns.
var humidities = sync.OnceValues(func() ([]HumidityOption, error) {
	lines, err := records(humidityTable)
	if err != nil {
		return nil, err
	}
	var out []HumidityOption
	for _, line := range lines {
		h, err := humidity(line)
		if err != nil {
			return nil, fmt.Errorf("rules: humidity option %s: %w", line["id"], err)
		}
		out = append(out, h)
	}
	return out, nil
})

func humidity(line map[string]string) (HumidityOption, error) {
	h := HumidityOption{ID: line["id"], Note: line["note"], Source: line["source"], Provenance: line["provenance"]}
	var wetBulbF, endpointF float64
	for column, to := range map[string]*float64{
		"least_rh_pct": &h.LeastRH, "least_wet_bulb_f": &wetBulbF, "least_share": &h.LeastShare,
		"least_hours": &h.LeastHours, "endpoint_f": &endpointF, "least_cook_h": &h.LeastCookHours,
	} {
		if line[column] == "" {
			continue
		}
		var err error
		if *to, err = strconv.ParseFloat(line[column], 64); err != nil {
			return HumidityOption{}, fmt.Errorf("%s: %w", column, err)
		}
	}
	if wetBulbF != 0 {
		h.LeastWetBulbC = celsius(wetBulbF)
	}
	if endpointF != 0 {
		h.EndpointC = celsius(endpointF)
	}
	switch line["whole_cook"] {
	case "yes":
		h.WholeCook = true
	case "no":
	default:
		return HumidityOption{}, fmt.Errorf("whole_cook %q: want yes or no", line["whole_cook"])
	}
	return h, nil
}

// Humidity returns an option by its id. ok is false for an unknown one;
// HumidityNames lists them.
func Humidity(id string) (h HumidityOption, ok bool) {
	all, err := humidities()
	if err != nil {
		return HumidityOption{}, false
	}
	for _, h := range all {
		if h.ID == id {
			return h, true
		}
	}
	return HumidityOption{}, false
}

// HumidityNames returns the ids that Humidity knows, in the order of the table.
func HumidityNames() []string {
	all, err := humidities()
	if err != nil {
		return nil
	}
	names := make([]string, 0, len(all))
	for _, h := range all {
		names = append(names, h.ID)
	}
	return names
}
