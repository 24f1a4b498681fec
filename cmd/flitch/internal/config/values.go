package config

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode"
)

// text returns the text of a key, "" when it is not there or not usable.
func (t *table) text(key string) string {
	value, ok := t.get(key)
	if !ok {
		return ""
	}
	text, ok := value.(string)
	switch {
	case !ok:
		t.wrongType(key, value, "text", strconv.Quote(shown(value)))
	case strings.ContainsFunc(text, unicode.IsControl):
		t.problem(key, "", "has a line break or control character in it", key+` = "one line"`)
	default:
		return text
	}
	return ""
}

// need is text for a key that has to be there and not empty.
func (t *table) need(key, example string) string {
	text := t.text(key)
	if text != "" {
		return text
	}
	hint := fmt.Sprintf("%s = %q", key, example)
	if value, ok := t.values[key]; !ok {
		t.missing(key, hint)
	} else if value == "" {
		t.problem(key, "", "is empty", hint)
	}
	return ""
}

// or is text for a key that has a default.
func (t *table) or(key, fallback string) string {
	if text := t.text(key); text != "" {
		return text
	}
	return fallback
}

// choice is one of a few words. An empty fallback means that it has to be there.
func (t *table) choice(key, fallback string, words ...string) string {
	text := t.text(key)
	for _, word := range words {
		if text == word {
			return text
		}
	}
	list := quoted(key, words)
	switch {
	case text != "":
		if near := nearest(text, words); near != "" {
			list = fmt.Sprintf("%s = %q", key, near)
		}
		t.problem(key, text, fmt.Sprintf("%q is not known here", text), list)
	case t.values[key] == "":
		t.problem(key, "", "is empty", list)
	case !t.has(key) && fallback == "":
		t.missing(key, list)
	}
	return fallback
}

// flag is true or false; said tells whether the file says so.
func (t *table) flag(key string) (on, said bool) {
	value, ok := t.get(key)
	if !ok {
		return false, false
	}
	on, ok = value.(bool)
	if !ok {
		t.wrongType(key, value, "true or false", "true")
	}
	return on, ok
}

// yes is a flag that is off unless the file says true.
func (t *table) yes(key string) bool {
	on, _ := t.flag(key)
	return on
}

// number is a number between two bounds, both allowed.
func (t *table) number(key string, fallback, least, most float64) float64 {
	value, ok := t.get(key)
	if !ok {
		return fallback
	}
	example := fmt.Sprintf("%s = %v", key, fallback)
	number, ok := numeric(value)
	switch {
	case !ok:
		t.wrongType(key, value, "a number", fmt.Sprint(fallback))
	case number < least || number > most || math.IsNaN(number):
		t.problem(key, shown(value), fmt.Sprintf("%v is not between %v and %v", number, least, most), example)
	default:
		return number
	}
	return fallback
}

// numbers is a list of numbers.
func (t *table) numbers(key string) []float64 {
	value, ok := t.get(key)
	if !ok {
		return nil
	}
	items, ok := value.([]any)
	if !ok {
		t.wrongType(key, value, "a list of numbers", "["+shown(value)+"]")
		return nil
	}
	var list []float64
	for _, item := range items {
		number, ok := numeric(item)
		if !ok || math.IsNaN(number) || math.IsInf(number, 0) {
			t.problem(key, shown(item), fmt.Sprintf("holds %s (%s), want numbers", describe(item), shown(item)), key+" = [-127, 85]")
			continue
		}
		list = append(list, number)
	}
	return list
}

// words is a table of numbers by the words that stand for them.
func (t *table) words(key string) map[string]float64 {
	value, ok := t.get(key)
	if !ok {
		return nil
	}
	example := key + " = { open = 1, closed = 0 }"
	items, ok := value.(map[string]any)
	if !ok || len(items) == 0 {
		t.problem(key, "", "is "+describe(value)+", want words and the numbers they stand for", example)
		return nil
	}
	list := map[string]float64{}
	for _, word := range slices.Sorted(maps.Keys(items)) {
		number, ok := numeric(items[word])
		if !ok || math.IsNaN(number) || math.IsInf(number, 0) {
			t.problem(key, shown(items[word]), fmt.Sprintf("%q stands for %s (%s), want a number", word, describe(items[word]), shown(items[word])), example)
			continue
		}
		list[word] = number
	}
	return list
}

// duration is a length of time with its unit, between two bounds, both allowed.
func (t *table) duration(key string, fallback, least, most time.Duration) time.Duration {
	value, ok := t.get(key)
	if !ok {
		return fallback
	}
	example := fmt.Sprintf("%s = %q", key, Short(fallback))
	text, ok := value.(string)
	if !ok {
		t.problem(key, shown(value), fmt.Sprintf("is %s (%s), want text with a unit", describe(value), shown(value)), example)
		return fallback
	}
	length, err := time.ParseDuration(strings.ReplaceAll(text, " ", ""))
	switch {
	case err != nil:
		t.problem(key, text, fmt.Sprintf("%q is not a time with a unit (s, m or h)", text), example)
	case length < 0:
		t.problem(key, text, fmt.Sprintf("%s is negative", text), example)
	case length < least || length > most:
		t.problem(key, text, fmt.Sprintf("%s is not between %s and %s", text, Short(least), Short(most)), example)
	default:
		return length
	}
	return fallback
}

func (t *table) wrongType(key string, value any, want, instead string) {
	t.problem(key, shown(value), fmt.Sprintf("is %s (%s), want %s", describe(value), shown(value), want), key+" = "+instead)
}

func numeric(value any) (float64, bool) {
	switch number := value.(type) {
	case int64:
		return float64(number), true
	case float64:
		return number, true
	}
	return 0, false
}

// describe names the type of a value in the words of a person.
func describe(value any) string {
	switch value.(type) {
	case string:
		return "text"
	case int64, float64:
		return "a number"
	case bool:
		return "true or false"
	case []any:
		return "a list"
	case map[string]any:
		return "a table"
	}
	return "a date or time"
}

// shown prints a value for a person, cut to a length that fits a line.
func shown(value any) string {
	text := fmt.Sprint(value)
	if runes := []rune(text); len(runes) > 40 {
		text = string(runes[:40]) + "..."
	}
	return text
}

func quoted(key string, words []string) string {
	parts := make([]string, len(words))
	for i, word := range words {
		parts[i] = strconv.Quote(word)
	}
	last := len(parts) - 1
	if last == 0 {
		return key + " = " + parts[0]
	}
	return key + " = " + strings.Join(parts[:last], ", ") + " or " + parts[last]
}

// Short prints a duration without the zero parts, as it is typed: "1m", not "1m0s".
func Short(d time.Duration) string {
	text := d.String()
	if strings.HasSuffix(text, "m0s") {
		text = strings.TrimSuffix(text, "0s")
	}
	if strings.HasSuffix(text, "h0m") {
		text = strings.TrimSuffix(text, "0m")
	}
	return text
}
