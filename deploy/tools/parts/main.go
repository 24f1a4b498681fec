// Command parts holds a list of the parts of a program (an SBOM in CycloneDX JSON) against
// the program itself: each module that is in it has to be in the list, in its version, and
// nothing else may be. It prints how many there are, and whose licence nobody knows.
package main

import (
	"debug/buildinfo"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
	"strings"

	cdx "github.com/CycloneDX/cyclonedx-go"
)

func main() {
	if err := run(os.Args[1:], os.Stdout); err != nil {
		fmt.Fprintln(os.Stderr, "parts:", err)
		os.Exit(1)
	}
}

func run(args []string, out io.Writer) error {
	if len(args) != 2 {
		return errors.New("say: parts BINARY SBOM.json")
	}
	built, err := modules(args[0])
	if err != nil {
		return err
	}
	text, err := os.ReadFile(args[1])
	if err != nil {
		return err
	}
	var list cdx.BOM
	if err := json.Unmarshal(text, &list); err != nil {
		return fmt.Errorf("%s: %w", args[1], err)
	}
	return compare(built, list, out)
}

// modules are what a binary says it was built from, as "path version".
func modules(binary string) ([]string, error) {
	info, err := buildinfo.ReadFile(binary)
	if err != nil {
		return nil, err
	}
	all := []string{"std " + info.GoVersion}
	for _, m := range info.Deps {
		if m.Replace != nil {
			m = m.Replace
		}
		all = append(all, m.Path+" "+m.Version)
	}
	return all, nil
}

func compare(built []string, list cdx.BOM, out io.Writer) error {
	if list.Components == nil || len(*list.Components) == 0 || len(built) < 2 {
		return errors.New("no components: of a program with none this list says nothing")
	}
	var listed, unlicensed []string
	for _, c := range *list.Components {
		listed = append(listed, c.Name+" "+c.Version)
		if (c.Licenses == nil || len(*c.Licenses) == 0) && (c.Evidence == nil || c.Evidence.Licenses == nil) {
			unlicensed = append(unlicensed, c.Name)
		}
	}
	var wrong []string
	for _, m := range built {
		if !slices.Contains(listed, m) {
			wrong = append(wrong, "not listed: "+m)
		}
	}
	for _, m := range listed {
		if !slices.Contains(built, m) {
			wrong = append(wrong, "listed and not in the program: "+m)
		}
	}
	if len(wrong) > 0 {
		return errors.New(strings.Join(wrong, "; "))
	}
	_, err := fmt.Fprintf(out, "%d components, all in the program; licence not found of: %s\n", len(listed), strings.Join(unlicensed, ", "))
	return err
}
