package config

import (
	"flitch/process"
)

func readPlaces(tables []*table) []Place {
	var seen names
	var places []Place
	for _, t := range tables {
		places = append(places, readPlace(t, &seen))
		t.finish()
	}
	return places
}

// readPlace asks the fuel of a smoker, because a fire that goes out looks
// different with each.
func readPlace(t *table, seen *names) Place {
	place := Place{Name: seen.take(t, "old-kettle")}
	place.Title = t.or("title", place.Name)
	place.Kind = process.Where(t.choice("kind", "",
		string(process.WhereFridge), string(process.WhereSmoker),
		string(process.WhereFreezer), string(process.WhereRoom)))
	switch place.Kind {
	case process.WhereSmoker:
		place.Fuel = Fuel(t.choice("fuel", "", string(Electric), string(Wood), string(Charcoal)))
	case "":
		t.get("fuel") // may be right or wrong: the kind decides
	default:
		t.foreign("is only for smokers", "fuel")
	}
	place.Alarms = readAlarms(t.tables("alarm"), place.Fuel)
	return place
}
