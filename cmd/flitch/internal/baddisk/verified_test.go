package baddisk

import (
	"context"
	"fmt"
	"os/exec"
	"strings"
	"time"
)

// closedBatches is how many seal begins: each is computed anew after each cut.
const closedBatches = 6

// seal begins batches and closes them, and then writes notes to the first: a closed batch is
// sealed and signed at once, with all that came in before.
func (g *grid) seal(ctx context.Context) {
	for n := 0; ctx.Err() == nil; n++ {
		id := fmt.Sprintf("PS-%d", 100+n)
		if n < closedBatches {
			g.say(ctx, id, map[string]any{"kind": "new", "new": map[string]any{"plan": "belly-dry-cured", "fridge": "alder", "smoker": "kettle",
				"pieces": []map[string]any{{"name": "A", "green_g": 2268, "thickness_mm": 38}}}})
			g.say(ctx, id, map[string]any{"kind": "disposition", "disposition": "hold for advice", "text": "asked the extension"})
			g.say(ctx, id, map[string]any{"kind": "close", "text": "given back"})
		} else {
			g.say(ctx, "PS-100", map[string]any{"kind": "note", "text": "rain and wind"})
		}
		pause(ctx, 200*time.Millisecond)
	}
}

func (g *grid) say(ctx context.Context, batch string, c map[string]any) {
	g.said++
	c["id"], c["batch"], c["by"] = fmt.Sprintf("said-%d", g.said), batch, "T.V."
	if err := g.shed.post(c); err != nil && ctx.Err() == nil {
		g.t.Errorf("%v: %v", c, err)
	}
}

// verdicts are what flitch verify came to, after many cuts.
type verdicts struct {
	met, notMet int // copies of which all is as it was written, and others
	lines       map[string]int
}

func (v verdicts) String() string {
	return fmt.Sprintf("met after %d cuts, not met after %d; lines %v", v.met, v.notMet, v.lines)
}

// verify runs flitch verify on the database as a cut has left it, before anything else has
// opened it, with the key that its seals have to be signed by. It reports whether all is met.
func (g *grid) verify(database string) bool {
	g.t.Helper()
	out, err := exec.Command(binary(g.t, full), "verify", database, "--key", g.key).CombinedOutput()
	if g.verified.lines == nil {
		g.verified.lines = map[string]int{}
	}
	for line := range strings.Lines(string(out)) {
		what, _, found := strings.Cut(line, ": ")
		for _, word := range []string{"met", "not met", "not measured", "look at"} {
			if name, ok := strings.CutPrefix(what, fmt.Sprintf("%-12s  ", word)); ok && found {
				g.verified.lines[name+" "+word]++
			}
		}
	}
	if err != nil {
		g.verified.notMet++
		g.fault("flitch verify: %v\n%s", err, out)
		return false
	}
	g.verified.met++
	return true
}
