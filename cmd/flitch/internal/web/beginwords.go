package web

import (
	"fmt"
	"html/template"
	"slices"

	"flitch/cmd/flitch/internal/dosing"
	"flitch/process"
)

// beginDoses is what to weigh, with what was asked for it.
type beginDoses struct {
	dosing.Report
	Asked *process.Dosing
}

// A noted is a field and what is wrong with it.
type noted struct{ Name, Text string }

// A field is a field of a form as a template shows it.
type field struct {
	Name, Label, Value, Mode string
	Note                     noted
	Words                    []string
	Places                   []PlaceName
}

// beginWords are the functions of the templates of a new batch.
func beginWords() template.FuncMap {
	note := func(wrong map[string]string, name string) noted { return noted{name, wrong[name]} }
	return template.FuncMap{
		"classes":   classes,
		"class":     func(c any) string { return "class." + classKey(fmt.Sprint(c)) },
		"caution":   func(c any) string { return "class.caution." + classKey(fmt.Sprint(c)) },
		"plus":      func(a, b int) int { return a + b },
		"ladder":    process.Ladder,
		"words":     func(words ...string) []string { return words },
		"tastes":    process.TasteNames,
		"ways":      func() []string { return ways },
		"answered":  answered,
		"beginKept": kept,
		"titled":    titled,
		"ruled":     ruled,
		"beginNote": note,
		"beginField": func(f *beginForm, name, label, value string) field {
			return field{Name: name, Label: label, Value: value, Mode: "decimal", Note: note(f.Wrong, name)}
		},
		"beginCell": func(f *beginForm, name string, i int, label, value, mode string) field {
			name = fmt.Sprint(name, "-", i)
			return field{Name: name, Label: label, Value: value, Mode: mode, Note: note(f.Wrong, name)}
		},
		"beginChoose": func(f *beginForm, name, label, value string, words []string) field {
			return field{Name: name, Label: label, Value: value, Words: words, Note: note(f.Wrong, name)}
		},
		"doseField": func(f doseForm, name, label, value string) field {
			return field{Name: name, Label: label, Value: value, Mode: "decimal", Note: note(f.Wrong, name)}
		},
		"beginPlace": func(name, label, value string, places []PlaceName) field {
			return field{Name: name, Label: label, Value: value, Places: places}
		},
	}
}

// classKey is the part of the keys of the texts about a class.
func classKey(class string) string {
	if class == string(process.FullyCooked) {
		return "full"
	}
	return "not"
}

// kept are the fields of a form as they were typed, by name, for the next step of it.
func kept(f *beginForm) map[string]string {
	all := map[string]string{"class": f.Class, "plan": f.Plan, "name": f.Name, "fridge": f.Fridge, "smoker": f.Smoker, "chill": f.Chill,
		"nitrite": f.Nitrite, "nitrate": f.Nitrate, "ppm": f.PPM, "rule": f.Rule, "method": f.Method, "product": f.Product,
		"brine": f.Brine, "pickle": f.Pickle, "pump": f.Pump, "rows": fmt.Sprint(len(f.Rows))}
	for i, p := range f.Rows {
		at := func(field, value string) { all[fmt.Sprint(field, "-", i)] = value }
		at("piece", p.Name)
		at("weight", p.Weight)
		at("thick", p.Thick)
		at("core", p.Core)
		at("recipe", p.Recipe)
		if p.Skin {
			at("skin", "yes")
		}
	}
	return all
}

// titled is a place as people read it.
func titled(c Choices, name string) string {
	for _, p := range slices.Concat(c.Fridges, c.Smokers) {
		if p.Name == name {
			return p.Title
		}
	}
	return name
}

// ruled is whose limits a dose is held against, as they were chosen from.
func ruled(rule string) string {
	switch rule {
	case "us", "canada", "fda-home", "none":
		return must("begin.word." + rule)
	}
	return rule
}
