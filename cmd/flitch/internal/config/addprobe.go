package config

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"strings"

	"github.com/pelletier/go-toml/v2"
)

// ProbeFile is where probes that were added by the page stand: beside the
// configuration, in the same language. It may be edited, and its tables may be moved
// into the configuration itself.
func ProbeFile(path string) string { return strings.TrimSuffix(path, ".toml") + ".probes.toml" }

// A NewProbe is a probe as a person says it: the words and units of [[probe]].
type NewProbe struct {
	Name       string `toml:"name" json:"name"`
	Place      string `toml:"place" json:"place"`
	Measures   string `toml:"measures" json:"measures"`
	Protocol   string `toml:"protocol,omitempty" json:"protocol,omitempty"`
	Topic      string `toml:"topic" json:"topic"`
	Metric     string `toml:"metric,omitempty" json:"metric,omitempty"`
	Each       string `toml:"each,omitempty" json:"each,omitempty"`
	Value      string `toml:"value,omitempty" json:"value,omitempty"`
	Time       string `toml:"time,omitempty" json:"time,omitempty"`
	TimeFormat string `toml:"time_format,omitempty" json:"time_format,omitempty"`
	Unit       string `toml:"unit,omitempty" json:"unit,omitempty"`
	UnitAt     string `toml:"unit_at,omitempty" json:"unit_at,omitempty"`
	Decimal    string `toml:"decimal,omitempty" json:"decimal,omitempty"`
	Interval   string `toml:"interval,omitempty" json:"interval,omitempty"`
}

// Lines returns the probe as lines of the configuration.
func (p NewProbe) Lines() (string, error) {
	text, err := toml.Marshal(map[string][]NewProbe{"probe": {p}})
	if err != nil {
		return "", fmt.Errorf("writing a probe as lines: %w", err)
	}
	return string(text), nil
}

// WithProbe checks the probe together with the configuration at path, and returns what
// ProbeFile is to hold then. The error is *Problems when the probe is wrong, or what
// stood there before.
func WithProbe(path string, p NewProbe) ([]byte, error) {
	lines, err := p.Lines()
	if err != nil {
		return nil, err
	}
	data, err := plainFile(path)
	if err != nil {
		return nil, err
	}
	added, err := plainFile(ProbeFile(path))
	if errors.Is(err, fs.ErrNotExist) {
		added, err = []byte("# Probes added by the page or by flitch listen --save, in the language of the\n# configuration beside it. They can be edited here, or moved there.\n"), nil
	}
	if err != nil {
		return nil, err
	}
	if len(added) > 0 && !bytes.HasSuffix(added, []byte("\n")) {
		added = append(added, '\n')
	}
	added = append(added, "\n"+lines...)
	if len(added) > maxFile {
		return nil, fmt.Errorf("%s would be longer than %d KiB: move its tables into %s", ProbeFile(path), maxFile>>10, path)
	}
	_, err = parse(path, data, added, theVault())
	return added, err
}
