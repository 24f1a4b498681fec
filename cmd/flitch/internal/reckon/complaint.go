package reckon

import "flitch/cmd/flitch/internal/quantity"

// misuse complains about what was typed.
func misuse(try, format string, args ...any) error { return quantity.Misuse(try, format, args...) }
