package engine

import (
	"fmt"
	"slices"
	"strings"

	"flitch/alerts"
	"flitch/process"
)

// signed reports whether a command says who answers, or has, an alarm. It is looked at
// when the command comes, not when it is evaluated: who signed yesterday and has left
// the configuration since did sign.
func signed(kind process.CommandKind) bool {
	switch kind {
	case process.CommandAcknowledge, process.CommandDuty, process.CommandShelve, process.CommandOut, process.CommandJudge:
		return true
	}
	return false
}

// knows reports whether the one who signed is a person of the configuration. A house
// that names nobody takes any initials.
func (h *House) knows(c process.Command) bool {
	if channel, ok := strings.CutPrefix(c.By, alerts.LinkOf); ok && (c.Kind == process.CommandAcknowledge || c.Kind == process.CommandJudge) {
		channel, _, _ = strings.Cut(channel, "/")
		return slices.ContainsFunc(h.policy.Channels, func(p alerts.ChannelPolicy) bool { return p.Name == channel })
	}
	return c.By != "" && (len(h.policy.Persons) == 0 || h.policy.Knows(c.By))
}

// Stranger refuses initials that are nobody's, and lists those there are, the nearest
// first.
func Stranger(p alerts.Policy, by string) *process.Refusal {
	known := strings.Join(p.Nearest(by), ", ")
	switch {
	case by == "" && known == "":
		return &process.Refusal{What: "nobody signed", Hint: "add your initials: --by T.V."}
	case by == "":
		return &process.Refusal{What: "nobody signed", Hint: "sign as one of " + known}
	}
	return &process.Refusal{What: fmt.Sprintf("%q is not a person of the configuration", by), Hint: "sign as one of " + known}
}
