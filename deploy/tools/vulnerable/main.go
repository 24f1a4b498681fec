// Vulnerable reads what govulncheck -format json prints. Weaknesses that our code reaches in
// other people's modules end it with 1: there is a newer one to take. Those of the standard
// library are listed only: they go with the next Go, which is not ours to publish.
package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
)

type message struct {
	Config  *struct{}
	Finding *struct {
		OSV   string
		Fixed string `json:"fixed_version"`
		Trace []struct{ Module, Package, Function string }
	}
}

func main() {
	ours, standard, err := read(os.Stdin)
	if err != nil {
		fmt.Fprintln(os.Stderr, "vulnerable:", err)
		os.Exit(2)
	}
	fmt.Printf("%d weaknesses of the standard library are reached: %v\n", len(standard), standard)
	fmt.Printf("%d of other modules are reached\n", len(ours))
	for _, line := range ours {
		fmt.Println(" ", line)
	}
	if len(ours) > 0 {
		os.Exit(1)
	}
}

// read returns the weaknesses that are reached: in modules, and in the standard library.
// Input that does not begin as govulncheck's is an error: nothing found must not be
// what a check says that did not run.
func read(from io.Reader) (modules, standard []string, err error) {
	d, begun := json.NewDecoder(from), false
	for {
		var m message
		if err := d.Decode(&m); errors.Is(err, io.EOF) {
			break
		} else if err != nil {
			return nil, nil, err
		}
		begun = begun || m.Config != nil
		f := m.Finding
		if f == nil || len(f.Trace) == 0 || f.Trace[0].Function == "" {
			continue // the module is there, and what is weak in it is not called
		}
		if at := f.Trace[0]; at.Module == "stdlib" {
			standard = append(standard, f.OSV)
		} else {
			modules = append(modules, fmt.Sprintf("%s in %s (%s), mended in %s", f.OSV, at.Module, at.Function, f.Fixed))
		}
	}
	if !begun {
		return nil, nil, errors.New("this is not what govulncheck prints")
	}
	return sorted(modules), sorted(standard), nil
}

func sorted(list []string) []string {
	slices.Sort(list)
	return slices.Compact(list)
}
