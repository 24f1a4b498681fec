package main

import (
	"fmt"
	"strings"

	"flitch/process"
	"flitch/process/plans"
)

// whichProduct asks for the product class when no plan was named: the limits differ, so
// none is taken unasked.
func whichProduct() error {
	var text strings.Builder
	text.WriteString("no --plan: which product will it be?")
	try := map[process.Class]string{}
	for _, class := range []process.Class{process.NotFullyCooked, process.FullyCooked} {
		names, err := plansOf(class)
		if err != nil {
			return err
		}
		fmt.Fprintf(&text, "\n  %s: %s", class, strings.Join(names, ", "))
		try[class] = "--plan " + names[0]
	}
	return misuse(try[process.NotFullyCooked]+" for what its eater cooks, "+try[process.FullyCooked]+" for what is eaten as it is; or a plan of your own by its name", "%s", text.String())
}

// plansOf are the built-in plans of a class, by name.
func plansOf(class process.Class) (names []string, err error) {
	for _, name := range plans.Names() {
		p, err := plans.BuiltIn(name)
		if err != nil {
			return nil, err
		}
		if p.Class == class {
			names = append(names, name)
		}
	}
	return names, nil
}
