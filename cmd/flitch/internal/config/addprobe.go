package config

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
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
	Topic      string `toml:"topic" json:"topic"`
	Value      string `toml:"value,omitempty" json:"value,omitempty"`
	Time       string `toml:"time,omitempty" json:"time,omitempty"`
	TimeFormat string `toml:"time_format,omitempty" json:"time_format,omitempty"`
	Unit       string `toml:"unit,omitempty" json:"unit,omitempty"`
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

// AddProbe checks the probe together with the configuration at path and then writes it
// to ProbeFile, whole or not at all. The error is *Problems when the probe is wrong, or
// what stood there before; then nothing has changed.
func AddProbe(path string, p NewProbe) error {
	lines, err := p.Lines()
	if err != nil {
		return err
	}
	data, err := plainFile(path)
	if err != nil {
		return err
	}
	added, err := plainFile(ProbeFile(path))
	if errors.Is(err, fs.ErrNotExist) {
		added, err = []byte("# Probes added by the page or by flitch listen --save, in the language of the\n# configuration beside it. They can be edited here, or moved there.\n"), nil
	}
	if err != nil {
		return err
	}
	if len(added) > 0 && !bytes.HasSuffix(added, []byte("\n")) {
		added = append(added, '\n')
	}
	added = append(added, "\n"+lines...)
	if len(added) > maxFile {
		return fmt.Errorf("%s would be longer than %d KiB: move its tables into %s", ProbeFile(path), maxFile>>10, path)
	}
	if _, err := parse(path, data, added, theVault()); err != nil {
		return err
	}
	return replace(ProbeFile(path), added)
}

// replace writes a file under another name first, so that a power cut leaves the old
// one or the new one.
func replace(path string, data []byte) error {
	f, err := os.CreateTemp(filepath.Dir(path), filepath.Base(path)+".*")
	if err != nil {
		return fmt.Errorf("writing %s: %w", path, err)
	}
	defer os.Remove(f.Name()) // gone already when all went well
	_, err = f.Write(data)
	if err == nil {
		err = f.Sync()
	}
	err = errors.Join(err, f.Chmod(0o644), f.Close())
	if err == nil {
		err = os.Rename(f.Name(), path)
	}
	if err != nil {
		return fmt.Errorf("writing %s: %w", path, err)
	}
	return syncFolder(filepath.Dir(path))
}

// syncFolder makes a new name last.
func syncFolder(path string) error {
	folder, err := os.Open(path)
	if err != nil {
		return err
	}
	return errors.Join(folder.Sync(), folder.Close())
}
