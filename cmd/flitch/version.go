package main

import (
	"fmt"
	"runtime/debug"
)

type versionCommand struct{}

// Help shows an example.
func (versionCommand) Help() string { return "Example:\n\n    flitch version" }

// Run prints what the build knows of itself.
func (versionCommand) Run(t terminal) error {
	_, err := fmt.Fprintln(t.out, "flitch", version())
	return err
}

// version is the released version, or the revision the binary was built from.
func version() string {
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return "(unknown)"
	}
	text := info.Main.Version
	if text == "" {
		text = "(devel)"
	}
	return text + " " + info.GoVersion
}
