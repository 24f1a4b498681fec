package main

import "flitch/cmd/flitch/internal/quantity"

// parseDoseWeight is exactWeight, and says why a spoon is no answer.
func parseDoseWeight(text string) (float64, error) {
	if err := quantity.NoSpoon(text); err != nil {
		return 0, err
	}
	return quantity.ExactWeight(text)
}
