package decode

import (
	"encoding/json"
	"fmt"
	"math"
	"strconv"
	"strings"
)

// MaxValue is the largest magnitude taken as a value, in the unit sent. It only
// keeps absurd numbers such as 1e308 away from sums; what a probe can measure is
// judged later: a thermistor of 100 kΩ has over a megohm in a freezer. Our own bound,
// no source.
const MaxValue = 1e9

// digitsMax bounds the text of a number; a double needs at most 24 characters.
const digitsMax = 64

// A numeral is how a device writes numbers as text.
type numeral struct {
	comma  bool // the decimals stand behind a comma, as declared
	behind bool // the unit stands behind the number
	words  map[string]float64
}

func parseDecimal(s string) (comma bool, err error) {
	switch s {
	case "", ".":
		return false, nil
	case ",":
		return true, nil
	}
	return false, fmt.Errorf("decimal sign %q is not known: write . or ,", s)
}

// value reads a number out of what a path pointed at; where names it. unit is the
// one behind the number, if there is one to be.
func (n numeral) value(v any, where string) (sent float64, unit Unit, err error) {
	switch v := v.(type) {
	case json.Number:
		if n.behind {
			return 0, AsIs, problem(NoValue, where+" is a number without a unit behind it")
		}
		sent, err = number(v.String(), where) // JSON knows no comma
		return sent, AsIs, err
	case string:
		return n.text(strings.TrimSpace(v), where)
	case nil:
		return 0, AsIs, problem(NoValue, where+" is null")
	case bool:
		if sent, ok := n.words[strconv.FormatBool(v)]; ok {
			return sent, AsIs, nil
		}
		return 0, AsIs, problem(NotNumber, fmt.Sprintf("%s is %t, not a number: if it stands for one, declare words = { %t = 1 }", where, v, v))
	case map[string]any:
		return 0, AsIs, problem(NotNumber, where+" is a JSON object, not a number: it "+holds(v))
	default:
		return 0, AsIs, problem(NotNumber, where+" is a JSON list, not a number")
	}
}

// text reads a number that is text, as declared.
func (n numeral) text(s, where string) (sent float64, unit Unit, err error) {
	if sent, ok := n.words[s]; ok {
		return sent, AsIs, nil
	}
	end := len(s)
	if n.behind {
		end = strings.LastIndexAny(s, "0123456789") + 1
	}
	if !n.behind || end == 0 {
		sent, err = n.number(s, where)
		return sent, AsIs, err
	}
	if sent, err = n.number(s[:end], where); err != nil {
		return 0, AsIs, err
	}
	unit, err = unitOf(s[end:], fmt.Sprintf("%s, %s,", where, quoted(s)))
	return sent, unit, err
}

// number parses decimal text with the declared sign. With a comma a dot is refused: it
// may be the decimal sign of another device, or stand between the thousands.
func (n numeral) number(s, where string) (float64, error) {
	if !n.comma {
		return number(s, where)
	}
	if strings.Contains(s, ".") {
		return 0, problem(NotNumber, fmt.Sprintf("%s is %s, with a dot, and a comma is declared as the decimal sign", where, quoted(s)))
	}
	return number(strings.Replace(s, ",", ".", 1), where)
}

// number parses decimal text.
func number(s, where string) (float64, error) {
	if s == "" {
		return 0, problem(NoValue, where+" is empty")
	}
	if !decimal(s) {
		return 0, problem(NotNumber, fmt.Sprintf("%s is %s, not a number%s", where, quoted(s), hint(s)))
	}
	f, err := strconv.ParseFloat(s, 64)
	switch {
	case err != nil && math.IsInf(f, 0), math.Abs(f) > MaxValue:
		return 0, problem(NotNumber, fmt.Sprintf("%s is %s, beyond anything a probe measures", where, quoted(s)))
	case err != nil:
		return 0, problem(NotNumber, fmt.Sprintf("%s is %s, not a number", where, quoted(s)))
	}
	return f, nil
}

// decimal keeps what strconv also takes (hexadecimal, inf, nan, underscores) out.
func decimal(s string) bool {
	return len(s) <= digitsMax && strings.Trim(s, "0123456789+-.eE") == "" && strings.ContainsAny(s, "0123456789")
}

// hint recognises the slips that are easy to name: the state of a switch, and a unit
// and a comma, alone or together.
func hint(s string) string {
	switch strings.ToLower(s) {
	case "open", "closed", "on", "off":
		return fmt.Sprintf(": if it stands for a number, declare words = { %s = 1 }", s)
	}
	var say []string
	bare := s
	if end := strings.LastIndexAny(s, "0123456789") + 1; end > 0 && end < len(s) {
		if _, ok := UnitOf(s[end:]); ok {
			bare, say = s[:end], append(say, `unit_at = "behind"`)
		}
	}
	if strings.Count(bare, ",") == 1 {
		bare, say = strings.Replace(bare, ",", ".", 1), append(say, `decimal = ","`)
	}
	if len(say) == 0 || !decimal(bare) {
		return ""
	}
	return ": if it is meant so, declare " + strings.Join(say, " and ")
}
