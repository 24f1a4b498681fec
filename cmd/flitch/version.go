package main

import (
	"fmt"
	"runtime"
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

// release is set by deploy/build.sh; empty in a binary that was built by hand.
var release string

// version is the released version, or what the build knows of itself.
func version() string {
	if release != "" {
		return release + " " + runtime.Version()
	}
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
