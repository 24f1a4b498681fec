package main

import (
	"maps"
	"slices"
	"strings"

	"flitch/cmd/flitch/internal/dosing"
	"flitch/process"
)

const dosedWords = "cure A:5.7g cure B:5.5g ppm 156 nitrite 6.25% rule us"

// parseDosed reads a dose from a line of an events file, in the words of flitch batch
// dosed, with or without the dashes: each word and its value, and behind text all the
// rest.
func parseDosed(detail string) (*process.Dosing, string, error) {
	var c batchDosedCommand
	words := strings.Fields(detail)
	for len(words) > 0 {
		if word, value, ok := strings.Cut(words[0], "="); ok { // as --cure=A:5.7g
			words = append([]string{word, value}, words[1:]...)
		}
		word := strings.TrimPrefix(words[0], "--")
		if len(words) == 1 {
			return nil, "", misuse(dosedWords, "%q has no value behind it", word)
		}
		if word == "text" {
			c.Text = strings.Join(words[1:], " ")
			break
		}
		if err := c.take(word, words[1]); err != nil {
			return nil, "", err
		}
		words = words[2:]
	}
	if len(c.Cure) == 0 {
		return nil, "", misuse(dosedWords, "a dose without a weight")
	}
	d, err := c.dosing()
	return d, c.Text, err
}

// take takes one word with its value.
func (c *batchDosedCommand) take(word, value string) error {
	once := map[string]*string{"ppm": &c.PPM, "nitrite": &c.Nitrite, "nitrate": &c.Nitrate, "rule": &c.Rule, "method": &c.Method,
		"product": &c.Product, "brine": &c.Brine, "pickle": &c.Pickle, "pump": &c.Pump}
	into, known := once[word]
	_, method := dosing.Methods[value]
	switch {
	case word == "cure":
		c.Cure = append(c.Cure, value)
	case word == "asked":
		c.Asked = append(c.Asked, value)
	case !known:
		return misuse("cure, asked, text, "+strings.Join(slices.Sorted(maps.Keys(once)), ", "), "%q is no word of a dose", word)
	case *into != "":
		return misuse("one of them", "%s stands twice", word)
	case word == "method" && !method:
		return misuse(strings.Join(slices.Sorted(maps.Keys(dosing.Methods)), ", "), "method %q is not known", value)
	default:
		*into = value
	}
	return nil
}
