// Package growth turns a temperature record into predicted growth of bacteria, and
// the temperature of a fermentation room into degree-hours.
//
// How fast an organism grows at a temperature is a Model (models.go: data with
// their sources; law.go: the three shapes). How much it grew is carried by a Sum,
// one number for each organism and probe; DeltaLog turns it into decimal growth,
// with lag and with the count at which growth stops.
//
//	rate:    models.go, law.go, conditions.go, perfringens.go
//	sum:     sum.go, baranyi.go, band.go
//	degrees: fermentation.go
//
// Temperatures are °C, times hours, rates natural-log units per hour. Missing data
// counts as the worst that may have happened. A result is a prediction by a model;
// the verdict belongs to the rule.
package growth
