package quantity

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"

	"flitch/process/cure"
)

// spoons are words for measures of volume.
var spoons = regexp.MustCompile(`(?i)(?:^|[^a-z])(tsps?|tbsps?|tbs|teaspoons?|tablespoons?|teaspoonfuls?|tablespoonfuls?|spoons?|spoonfuls?|cups?|pinch(es)?|handfuls?|ml|fl\.?\s*oz|fl)\.?$`)

// NoSpoon refuses a measure of volume, and says why a spoon is no answer.
func NoSpoon(text string) error {
	if spoons.MatchString(strings.TrimSpace(text)) {
		return Misuse("grams on a scale that shows 0.1 g, as 4.4g", "%s", spoonReason())
	}
	return nil
}

func spoonReason() string {
	all := cure.Spoonfuls()
	first, last := all[0], all[len(all)-1]
	return fmt.Sprintf("nitrite is not dosed by the spoon: a level tablespoon weighs from %.1f g (%s) to %.1f g (%s), %.1f to 1, and so would the dose",
		last.Grams, last.Salt, first.Grams, first.Salt, cure.SpoonSpread())
}

// DoseWeight is Weight, without spoons.
func DoseWeight(text string) (float64, error) {
	if err := NoSpoon(text); err != nil {
		return 0, err
	}
	return Weight(text)
}

// Strength is Part for what a packet says. A small number without the
// per cent sign is most likely a part.
func Strength(text string) (float64, error) {
	number, unit, err := Split(text)
	if err == nil && unit == "" && number > 0 && number < 0.1 {
		return 0, Misuse(fmt.Sprintf("%g%%, if that is what the packet says", Thousandths(100*number)), "%q has no per cent sign", text)
	}
	return Part(text)
}

// Part reads "6.25%" as the part 0.0625, 0 to 1. A number without the sign is
// refused: 0.25 is a quarter of one per cent to one reader and a quarter to another.
func Part(text string) (float64, error) {
	number, unit, err := Split(text)
	if err != nil {
		return 0, err
	}
	switch {
	case unit == "":
		return 0, Misuse(text+"%, if per cent was meant", "%q has no per cent sign", text)
	case unit != "%":
		return 0, Misuse(strconv.FormatFloat(number, 'f', -1, 64)+"%, if per cent was meant", "%q is not per cent", text)
	case !(number >= 0 && number <= 100):
		return 0, Misuse("0% to 100%", "%q is not a part of something", text)
	}
	return number / 100, nil
}

// PPM reads "120ppm"; "120" too, for there is no other unit of it.
func PPM(text string) (float64, error) {
	n, unit, err := Split(text)
	switch {
	case err != nil:
		return 0, err
	case unit != "" && !strings.EqualFold(unit, "ppm"):
		return 0, Misuse("120ppm", "%q is not a unit of a dose", unit)
	case !(n >= 0):
		return 0, Misuse("120ppm", "%q is not a dose", text)
	}
	return n, nil
}
