package mqtttest

import (
	"os"
	"path/filepath"
	"syscall"
)

// Freeze stops the broker in the middle of what it does (SIGSTOP). The system goes on for it:
// connections stay, new ones are taken, what is sent to it is received, and nobody answers.
func (m *Mosquitto) Freeze() {
	m.t.Helper()
	if err := m.cmd.Process.Signal(syscall.SIGSTOP); err != nil {
		m.t.Fatal(err)
	}
	m.t.Cleanup(m.Thaw) // or it would never hear that it should end
}

// Thaw lets it go on, if it is frozen.
func (m *Mosquitto) Thaw() {
	if m.cmd != nil {
		_ = m.cmd.Process.Signal(syscall.SIGCONT) // one that has ended is not frozen
	}
}

// Die ends the broker as a power cut does, and leaves it so. What it returns is the file of its
// persistence in dir as it was then; nothing when there is none yet.
func (m *Mosquitto) Die(dir string) []byte {
	m.t.Helper()
	if err := m.cmd.Process.Kill(); err != nil {
		m.t.Fatal(err)
	}
	<-m.ended
	m.cmd = nil
	return m.Saved(dir)
}

// Saved is the file of its persistence in dir; nothing when there is none yet.
func (m *Mosquitto) Saved(dir string) []byte {
	m.t.Helper()
	data, err := os.ReadFile(filepath.Join(dir, "mosquitto.db"))
	if err != nil && !os.IsNotExist(err) {
		m.t.Fatal(err)
	}
	return data
}
