package main

import (
	"fmt"
	"regexp"
	"strings"

	"flitch/process/cure"
)

// spoons are words for measures of volume.
var spoons = regexp.MustCompile(`(?i)(?:^|[^a-z])(tsps?|tbsps?|tbs|teaspoons?|tablespoons?|teaspoonfuls?|tablespoonfuls?|spoons?|spoonfuls?|cups?|pinch(es)?|handfuls?|ml|fl\.?\s*oz|fl)\.?$`)

// parseDoseWeight is exactWeight, and says why a spoon is no answer.
func parseDoseWeight(text string) (float64, error) {
	if spoons.MatchString(strings.TrimSpace(text)) {
		return 0, misuse("grams on a scale that shows 0.1 g, as 4.4g", "%s", spoonReason())
	}
	return exactWeight(text)
}

func spoonReason() string {
	all := cure.Spoonfuls()
	first, last := all[0], all[len(all)-1]
	return fmt.Sprintf("nitrite is not dosed by the spoon: a level tablespoon weighs from %.1f g (%s) to %.1f g (%s), %.1f to 1, and so would the dose",
		last.Grams, last.Salt, first.Grams, first.Salt, cure.SpoonSpread())
}

// parseStrength is parsePart for what a packet says. A small number without the
// per cent sign is most likely a part.
func parseStrength(text string) (float64, error) {
	number, unit, err := split(text)
	if err == nil && unit == "" && number > 0 && number < 0.1 {
		return 0, misuse(fmt.Sprintf("%g%%, if that is what the packet says", thousandths(100*number)), "%q has no per cent sign", text)
	}
	return parsePart(text)
}
