package assess

import (
	"fmt"
	"slices"
	"time"
)

// A stray is a row of which nobody can tell the probe.
type stray struct {
	line int
	at   time.Time // of it, or of the row before it
}

// unseenFor is how long a line may be drawn over what was not seen: the 30 min of the
// cooking guideline.
const unseenFor = 30 * time.Minute

// hidden says why there may be a probe in the file of which nobody knows. Torn lines
// are few and far between; a probe writes at least every hour, or is not believed to.
func (l *logged) hidden() (why []string) {
	strays := l.strays
	slices.SortFunc(strays, func(a, b stray) int { return a.at.Compare(b.at) })
	for i := 0; i < len(strays); {
		j := i + 1
		for j < len(strays) && strays[j].at.Sub(strays[j-1].at) <= slowestOther {
			j++
		}
		if strays[j-1].at.Sub(strays[i].at) > unseenFor {
			why = append(why, fmt.Sprintf("%d rows from line %d of the readings on do not say whose they are: any probe may have written them", j-i, strays[i].line))
		}
		i = j
	}
	return why
}
