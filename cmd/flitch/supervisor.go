package main

import (
	"fmt"
	"os"
	"time"

	notify "github.com/coreos/go-systemd/v22/daemon"

	"flitch/cmd/flitch/internal/app"
)

// systemd is the supervisor that the environment names, if one does.
type systemd struct{ every time.Duration }

func theSupervisor() (app.Supervisor, error) {
	if os.Getenv("NOTIFY_SOCKET") == "" { // sd_notify(3): there is none
		return nil, nil
	}
	every, err := notify.SdWatchdogEnabled(false)
	if err != nil {
		return nil, fmt.Errorf("the watchdog that systemd asks for: %w", err)
	}
	return systemd{every}, nil
}

// Tell implements app.Supervisor.
func (systemd) Tell(state string) error {
	_, err := notify.SdNotify(false, state)
	return err
}

// Every implements app.Supervisor.
func (s systemd) Every() time.Duration { return s.every }
