package main

import (
	"errors"
	"regexp"
	"strings"

	"github.com/alecthomas/kong"
)

// commands is the command table. Each command is a file of its own.
type commands struct {
	Demo        demoCommand        `cmd:"" help:"Run an invented batch from cure to chill, at speed."`
	Run         runCommand         `cmd:"" help:"Run the daemon."`
	Init        initCommand        `cmd:"" help:"Write a configuration to start from, and an empty database."`
	Check       checkCommand       `cmd:"" help:"Read a configuration and say what is wrong with it."`
	Batch       batchCommands      `cmd:"" help:"Start a batch, and say what happened to it."`
	Probe       probeCommands      `cmd:"" help:"Say that a probe was checked, and see which are due."`
	Listen      listenCommand      `cmd:"" help:"Show what arrives by MQTT, and make a probe of a number."`
	Alarms      alarmsCommand      `cmd:"" help:"List the alarms."`
	Acknowledge acknowledgeCommand `cmd:"" help:"Say that you are on it."`
	Duty        dutyCommand        `cmd:"" help:"Say that you have the night."`
	Shelve      shelveCommand      `cmd:"" help:"Hide one alarm until a time."`
	Judge       judgeCommand       `cmd:"" help:"Say whether a ring was useful, false or late."`
	SignIn      signInCommand      `cmd:"" name:"sign-in" help:"Sign in to a daemon that asks for it."`
	Password    passwordCommand    `cmd:"" help:"Set the password of a person, or make a link for guests."`
	Phones      phonesCommands     `cmd:"" help:"List the phones that are rung by web push, and take one off."`
	Ring        ringCommand        `cmd:"" help:"Send a test message the whole way to a phone."`
	Record      recordCommand      `cmd:"" help:"Write the record of a batch."`
	Health      healthCommand      `cmd:"" help:"Ask the daemon whether something is wrong with it."`
	Verify      verifyCommand      `cmd:"" help:"Find out whether a database or the proof of a batch is as it was written."`
	Fleet       fleetCommands      `cmd:"" help:"See many sites in one PostgreSQL, and let them in."`
	Backup      backupCommand      `cmd:"" help:"Copy the database to another disk while the daemon runs, and see the copies."`
	Restore     restoreCommand     `cmd:"" help:"Put a copy back."`
	Import      importCommand      `cmd:"" help:"Bring the CSV of a stand-alone logger to the daemon."`
	Assess      assessCommand      `cmd:"" help:"Run a logger's file through the same evaluation."`
	Rehearse    rehearseCommand    `cmd:"" help:"Run a night that you wrote down, and say what would have rung."`
	Dose        doseCommand        `cmd:"" help:"Say how much curing salt to weigh for each slab, and check what was weighed."`
	Reckon      reckonCommand      `cmd:"" help:"Ask one of the models one question."`
	Nights      nightsCommand      `cmd:"" help:"Run the alarms over invented nights, and say what they missed."`
	Version     versionCommand     `cmd:"" help:"Print the version."`
}

const description = "Watches dry-cured belly in the cure fridge and the smoker, rings when a person must act, and keeps the record. " +
	"It says met, not met, not measured or held, by the rule you chose; it never switches heat on."

// newParser makes a parser of the table. It notes in helped that help was asked
// for, because asking must not end a process that is a test.
func newParser(t terminal, helped *bool) (*kong.Kong, error) {
	return kong.New(&commands{},
		kong.Name("flitch"), kong.Description(description), kong.Writers(t.out, t.err),
		kong.ConfigureHelp(kong.HelpOptions{Compact: true, WrapUpperBound: 100}),
		kong.Exit(func(int) { *helped = true }),
		kong.Bind(t))
}

// execute runs one command line and returns the exit code.
func execute(args []string, t terminal) int {
	said := &spoken{to: t.out}
	t.out = said
	helped := false
	parser, err := newParser(t, &helped)
	if err != nil {
		return t.fail(err)
	}
	if len(args) == 0 {
		args = []string{"--help"}
	}
	context, err := parser.Parse(joinNegative(args))
	switch {
	case helped:
		return exitFine
	case err != nil:
		return t.fail(explain(err))
	}
	if err := context.Run(); err != nil {
		return t.fail(err)
	}
	if said.err != nil {
		return t.fail(problem("an output that takes it", "writing the answer: %v", said.err))
	}
	return exitFine
}

// explain makes a complaint of what the parser says.
func explain(err error) error {
	try := "flitch --help"
	if wrong, ok := errors.AsType[*kong.ParseError](err); ok && wrong.Context != nil {
		if selected := wrong.Context.Selected(); selected != nil {
			try = "flitch " + strings.TrimPrefix(selected.Path(), "flitch ") + " --help"
		}
	}
	return misuse(try, "%v", err)
}

var (
	longFlag = regexp.MustCompile(`^--[a-z-]+$`)
	negative = regexp.MustCompile(`^-\d`)
)

// joinNegative lets people type --value -18C, which the parser takes for two
// flags.
func joinNegative(args []string) []string {
	var joined []string
	for _, arg := range args {
		last := len(joined) - 1
		if last >= 0 && longFlag.MatchString(joined[last]) && negative.MatchString(arg) {
			joined[last] += "=" + arg
			continue
		}
		joined = append(joined, arg)
	}
	return joined
}
