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
// judged later. Our own bound, no source.
const MaxValue = 1e6

// digitsMax bounds the text of a number; a double needs at most 24 characters.
const digitsMax = 64

// value reads a number out of what a path pointed at; where names it.
func value(v any, where string) (float64, error) {
	switch v := v.(type) {
	case json.Number:
		return number(v.String(), where)
	case string:
		return number(strings.TrimSpace(v), where)
	case nil:
		return 0, problem(NoValue, where+" is null")
	case bool:
		return 0, problem(NotNumber, fmt.Sprintf("%s is %t, not a number", where, v))
	case map[string]any:
		return 0, problem(NotNumber, where+" is a JSON object, not a number: it "+holds(v))
	default:
		return 0, problem(NotNumber, where+" is a JSON list, not a number")
	}
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

// hint recognises the two slips that are easy to name.
func hint(s string) string {
	if strings.Count(s, ",") == 1 && decimal(strings.Replace(s, ",", ".", 1)) {
		return ": write the decimals with a dot"
	}
	if bare := strings.TrimRight(s, " °CFK"); bare != s && decimal(bare) {
		return ": send the number alone and set the unit in the mapping"
	}
	return ""
}
