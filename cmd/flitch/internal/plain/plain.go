// Package plain reads the numbers that a person or a logger writes.
package plain

import (
	"math"
	"strconv"
	"strings"
)

// Number reads digits with a decimal point, and an exponent if need be. What strconv
// takes besides (underscores, hexadecimal, words) is not how anybody writes a number:
// 7_0 is a slip, and not seventy.
func Number(text string) (v float64, ok bool) {
	v, err := strconv.ParseFloat(text, 64)
	return v, err == nil && strings.Trim(text, "0123456789+-.eE") == "" && !math.IsInf(v, 0)
}
