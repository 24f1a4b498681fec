package config

import (
	"fmt"
	"io"
	"log/slog"
	"os"
	"strings"
	"unicode"
)

// A Secret is text that no print, log or encoder shows. The text sits behind a
// pointer so that it stays hidden even where fmt may not call methods, as in an
// unexported field of a larger struct.
type Secret struct{ text *string }

const hidden = "(secret)"

// NewSecret wraps text.
func NewSecret(text string) Secret { return Secret{&text} }

// Reveal returns the text, empty when none was set.
func (s Secret) Reveal() string {
	if s.text == nil {
		return ""
	}
	return *s.text
}

// IsSet reports whether there is a text.
func (s Secret) IsSet() bool { return s.text != nil }

// String returns a fixed word.
func (s Secret) String() string { return hidden }

// GoString returns a fixed word.
func (s Secret) GoString() string { return hidden }

// MarshalText returns a fixed word.
func (s Secret) MarshalText() ([]byte, error) { return []byte(hidden), nil }

// LogValue returns a fixed word.
func (s Secret) LogValue() slog.Value { return slog.StringValue(hidden) }

// maxSecret bounds a secret file, in bytes; proposal, far above any token.
const maxSecret = 4096

// A vault is where secrets and other small files come from.
type vault struct {
	file   func(path string) ([]byte, error)
	lookup func(name string) (string, bool)
}

// theVault reads this machine's files and environment.
func theVault() vault { return vault{file: smallFile, lookup: os.LookupEnv} }

// sealedVault answers for every secret without opening any, so that a person who
// may not read them can still ask where the daemon listens.
func sealedVault() vault {
	return vault{
		file:   func(string) ([]byte, error) { return []byte(hidden), nil },
		lookup: func(string) (string, bool) { return hidden, true },
	}
}

// smallFile reads a regular file. Anything else (a pipe, a device) could hang the
// start or never end.
func smallFile(path string) ([]byte, error) {
	info, err := os.Stat(path)
	if err != nil {
		return nil, err
	}
	if !info.Mode().IsRegular() {
		return nil, fmt.Errorf("%s is not a plain file", path)
	}
	file, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer file.Close()
	return io.ReadAll(io.LimitReader(file, 1<<20))
}

// oneLine cleans the line end that editors add and says what else is wrong.
func oneLine(raw string) (text, wrong string) {
	text = strings.TrimRight(raw, "\r\n")
	switch {
	case text == "":
		return "", "is empty"
	case len(text) > maxSecret:
		return "", fmt.Sprintf("is longer than %d bytes", maxSecret)
	case strings.ContainsFunc(text, unicode.IsControl):
		return "", "has more than one line or control characters"
	}
	return text, ""
}
