package reckon

import "flitch/cmd/flitch/internal/quantity"

// misuse complains about what was typed; problem about what can be read and does not do.
func misuse(try, format string, args ...any) error { return quantity.Misuse(try, format, args...) }

func problem(try, format string, args ...any) error { return quantity.Problem(try, format, args...) }
