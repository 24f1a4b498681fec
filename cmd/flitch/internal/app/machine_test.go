package app

import (
	"sync"
	"time"
)

// A testMachine has both clocks of a machine in the hand of the test: the one on its wall,
// which jumps, and its count of seconds, by which timers go.
type testMachine struct {
	mu     sync.Mutex
	wall   time.Time
	spent  time.Duration
	asleep time.Duration // of spent: timers stood
	timers *Stepped
}

func newTestMachine(wall time.Time) *testMachine {
	return &testMachine{wall: wall, timers: NewStepped(time.Unix(0, 0))}
}

func (m *testMachine) Times() (time.Time, time.Duration) {
	m.mu.Lock()
	defer m.mu.Unlock()
	return m.wall, m.spent
}

func (m *testMachine) Wall() time.Time {
	wall, _ := m.Times()
	return wall
}

func (m *testMachine) After(d time.Duration) <-chan time.Time { return m.timers.After(d) }

// pass is time that passes.
func (m *testMachine) pass(d time.Duration) {
	m.mu.Lock()
	m.wall, m.spent = m.wall.Add(d), m.spent+d
	to := time.Unix(0, 0).Add(m.spent - m.asleep)
	m.mu.Unlock()
	m.timers.Step(to)
}

// jump is somebody who sets the clock on the wall.
func (m *testMachine) jump(d time.Duration) {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.wall = m.wall.Add(d)
}

// sleep is a machine that is suspended: time passes, and no timer runs.
func (m *testMachine) sleep(d time.Duration) {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.wall, m.spent, m.asleep = m.wall.Add(d), m.spent+d, m.asleep+d
}

// restart is a machine that lost its count with its power: off is how long it was off, and
// wall what its clock says then.
func (m *testMachine) restart(wall time.Time) {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.wall, m.spent, m.asleep, m.timers = wall, 0, 0, NewStepped(time.Unix(0, 0))
}
