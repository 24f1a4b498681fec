package demo

import (
	"fmt"
	"slices"
	"strings"

	"flitch/alerts"
	"flitch/ingest/sim"
	"flitch/process"
)

// storyStages are those the story goes through after the cure it begins with.
var storyStages = []string{string(process.StageRinse), string(process.StageDry), string(process.StageSmoke), string(process.StageCook), string(process.StageRest), string(process.StageChill)}

// checkFrom refuses a moment that the story cannot be played to.
func checkFrom(from string) error {
	isEntry := slices.ContainsFunc(alerts.Catalogue(alerts.Wood), func(e alerts.Entry) bool { return e.ID == from })
	if from == "" || isEntry || slices.Contains(storyStages, from) {
		return nil
	}
	return &process.Refusal{What: fmt.Sprintf("the story has no stage %q and there is no alarm of that name", from), Hint: "--from " + strings.Join(storyStages, ", ") + ", or an alarm such as C1"}
}

// before reports whether the moment that was asked for is still to come after a step.
func (s *stage) before(step sim.Step) (bool, error) {
	there := slices.ContainsFunc(step.Commands, func(c sim.Command) bool {
		return c.Kind == process.CommandStage && string(c.Stage) == s.From
	})
	if !there && !slices.Contains(storyStages, s.From) {
		var err error
		if _, there, err = s.app.Alarm(s.From); err != nil {
			return false, err
		}
	}
	if there {
		fmt.Fprintf(s.Print, "Here is %s: from now on at its pace.\n", s.From)
	}
	return !there, nil
}
