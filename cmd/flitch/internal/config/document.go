package config

import (
	"errors"
	"fmt"
	"path/filepath"
	"regexp"
	"strings"

	"github.com/pelletier/go-toml/v2"
)

// maxFile bounds the configuration file, in bytes; proposal, room for some
// thousand probes.
const maxFile = 256 << 10

// A document is a file while it is being read: its values, their lines, and the
// problems found so far.
type document struct {
	path     string
	called   string // how its problems name it; empty for the file that was asked for
	vault    vault
	lines    index
	problems []Problem
	doubts   []Problem // see Config.Doubts
}

// open decodes the text and returns its outermost table. Text that is not TOML
// ends the reading: what follows the first such error cannot be told apart.
func (d *document) open(data []byte) (*table, bool) {
	data = []byte(strings.TrimPrefix(string(data), "\ufeff"))
	var values map[string]any
	if err := toml.Unmarshal(data, &values); err != nil {
		wrong := unreadable(data, err)
		wrong.Path = d.called
		d.problems = append(d.problems, wrong)
		return nil, false
	}
	d.lines = indexOf(data)
	return &table{doc: d, values: values, present: true}, true
}

// resolve returns a path of the file as seen from the folder the file is in.
func (d *document) resolve(path string) string {
	if filepath.IsAbs(path) {
		return path
	}
	return filepath.Join(filepath.Dir(d.path), path)
}

var (
	decimalComma = regexp.MustCompile(`=\s*-?\d+,\d`)
	bareWord     = regexp.MustCompile(`^\s*([\w-]+)\s*=\s*[A-Za-z/°]`)
)

// unreadable explains text that is not TOML. The text itself is never repeated:
// it may be a password somebody put here.
func unreadable(data []byte, err error) Problem {
	var decode *toml.DecodeError
	if !errors.As(err, &decode) {
		return Problem{Line: 1, What: strings.TrimPrefix(err.Error(), "toml: ")}
	}
	line, _ := decode.Position()
	problem := Problem{Line: line, Key: strings.Join(decode.Key(), "."), What: strings.TrimPrefix(decode.Error(), "toml: ")}
	text := lineOf(data, line)
	switch {
	case decimalComma.MatchString(text):
		problem.What = "a number has a decimal comma"
		problem.Hint = "a point: 0.5"
	case bareWord.MatchString(text):
		key := bareWord.FindStringSubmatch(text)[1]
		problem.What = "text has to stand in quotes"
		problem.Hint = fmt.Sprintf(`%s = "..."`, key)
	}
	return problem
}

func lineOf(data []byte, line int) string {
	lines := strings.Split(string(data), "\n")
	if line < 1 || line > len(lines) {
		return ""
	}
	return lines[line-1]
}
