package config

import (
	_ "embed"
	"strconv"
	"strings"
	"unicode"
)

//go:embed sample.toml
var sample string

// Sample returns a commented configuration for a site of that name: one fridge
// with a slow probe and one smoker with a chamber and a core probe. It loads as
// it is. Characters that do not print are left out of the name.
func Sample(name string) string {
	printable := strings.Map(func(r rune) rune {
		if unicode.IsPrint(r) {
			return r
		}
		return -1
	}, name)
	if strings.TrimSpace(printable) == "" {
		printable = "My larder"
	}
	return strings.Replace(sample, `"@NAME@"`, strconv.Quote(printable), 1)
}
