// Package plans holds the plans that flitch brings along, and reads a user's own
// in the same language (TOML). A plan is an example of form with a source beside
// each number; it is not a validated process.
package plans

import (
	"bytes"
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"fmt"
	"strings"

	"github.com/pelletier/go-toml/v2"

	"flitch/process"
	"flitch/process/rules"
)

//go:embed *.toml
var files embed.FS

// Names returns the built-in plans, sorted.
func Names() []string {
	entries, _ := files.ReadDir(".") // an embedded folder can be read
	names := make([]string, 0, len(entries))
	for _, e := range entries {
		names = append(names, strings.TrimSuffix(e.Name(), ".toml"))
	}
	return names
}

// BuiltIn returns a built-in plan. The error is a *process.Refusal.
func BuiltIn(name string) (process.Plan, error) {
	text, err := files.ReadFile(name + ".toml")
	if err != nil {
		return process.Plan{}, &process.Refusal{
			What: fmt.Sprintf("there is no plan %q", name), Hint: "the plans are " + strings.Join(Names(), ", "), NotFound: true}
	}
	return Parse(text)
}

// Parse reads a plan from TOML, strictly: an unknown key, a missing source or a
// limit that does not exist is an error that names all problems at once.
func Parse(text []byte) (process.Plan, error) {
	var p process.Plan
	dec := toml.NewDecoder(bytes.NewReader(text)).DisallowUnknownFields()
	if err := dec.Decode(&p); err != nil {
		return process.Plan{}, fmt.Errorf("plan: %s", describe(err))
	}
	problems := append(p.Problems(), unknownRules(p)...)
	if len(problems) > 0 {
		return process.Plan{}, fmt.Errorf("plan %s: %s", p.Name, strings.Join(problems, "; "))
	}
	sum := sha256.Sum256(text)
	p.Hash = hex.EncodeToString(sum[:])
	return p, nil
}

func describe(err error) string {
	switch e := err.(type) {
	case *toml.StrictMissingError:
		return "unknown keys:\n" + e.String()
	case *toml.DecodeError:
		return e.String()
	}
	return err.Error()
}

// unknownRules names the published tables a plan asks for that do not exist.
func unknownRules(p process.Plan) []string {
	var out []string
	if _, ok := rules.Lethality(p.Lethality.Table); p.Lethality.Table != "" && !ok {
		out = append(out, fmt.Sprintf("[lethality] table %q does not exist: one of %s", p.Lethality.Table, rules.LethalityHint()))
	}
	if _, ok := rules.ChillOption(p.Chill.Option); p.Chill.Option != "" && !ok {
		out = append(out, fmt.Sprintf("[chill] option %q does not exist: one of %s", p.Chill.Option, strings.Join(rules.ChillNames(), ", ")))
	}
	if _, ok := rules.Humidity(p.Humidity.Option); p.Humidity.Option != "" && !ok {
		out = append(out, fmt.Sprintf("[humidity] option %q does not exist: one of %s", p.Humidity.Option, strings.Join(rules.HumidityNames(), ", ")))
	}
	if _, ok := rules.DegreeHours(p.Ferment.Limit); p.Ferment.Limit != "" && !ok {
		out = append(out, fmt.Sprintf("[ferment] limit %q does not exist: us or canada", p.Ferment.Limit))
	}
	return out
}
