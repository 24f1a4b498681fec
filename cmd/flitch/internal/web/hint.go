package web

import "strings"

// pageHint leaves of a hint what a person at the page can do. Hints of refusals are written
// for all ways in: what stands behind a colon as a command or a flag is for a terminal, and
// here the field, the button or the list is in view.
func pageHint(hint string) string {
	var kept []string
	for part := range strings.SplitSeq(hint, "; ") {
		for _, command := range []string{": flitch ", ": --"} {
			part, _, _ = strings.Cut(part, command)
		}
		typed := strings.Contains(part, "--") || strings.HasPrefix(part, "flitch ")
		dangling := strings.HasSuffix(part, " with") || strings.HasPrefix(part, "to ")
		if !typed && !dangling {
			kept = append(kept, part)
		}
	}
	return strings.Join(kept, "; ")
}
