package action

import (
	_ "embed"
	"fmt"
	"regexp"
	"slices"
	"strings"
	"sync"

	"github.com/pelletier/go-toml/v2"

	"flitch/process"
)

//go:embed texts.toml
var texts []byte

// A Line is one ready text and what it is for.
type Line struct {
	Name       string   `toml:"name"`
	Entries    []string `toml:"entries"` // lines of the alarm catalogue
	Clocks     []string `toml:"clocks"`  // of the batch
	Cause      string   `toml:"cause"`
	Control    string   `toml:"control"`
	Prevention string   `toml:"prevention"`
	Product    string   `toml:"product"`
}

var lines = sync.OnceValue(func() []Line {
	var file struct {
		Line []Line `toml:"line"`
	}
	if err := toml.Unmarshal(texts, &file); err != nil { // part of the program: a test reads it
		panic(fmt.Sprintf("action: texts.toml: %v", err))
	}
	return file.Line
})

// Lines are all ready texts.
func Lines() []Line { return slices.Clone(lines()) }

// Concerns reports whether an action that names about is one about a deviation: by its
// name, or by a line of the catalogue that has the same text.
func Concerns(about, deviation string) bool {
	if about == deviation {
		return true
	}
	dose := strings.HasPrefix(deviation, "dose of ")
	return slices.ContainsFunc(lines(), func(l Line) bool {
		return slices.Contains(l.Entries, about) && (slices.Contains(l.Clocks, deviation) || dose && about == "K4")
	})
}

var blank = regexp.MustCompile(`\{[a-z_]+\}`)

// filled puts what is known into a text; what is not becomes a blank.
func filled(text string, known map[string]string) string {
	return blank.ReplaceAllStringFunc(text, func(name string) string {
		if v := known[strings.Trim(name, "{}")]; v != "" {
			return v
		}
		return process.Blank
	})
}
