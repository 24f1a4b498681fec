package main

import (
	"bufio"
	"fmt"
	"net/http"
	"os"
	"strings"
	"sync"
	"time"
)

// mainAt is main on a machine whose clocks the standard input moves: the whole daemon,
// from its command line and configuration to its doors, lives by them. A line is
// "pass 1m", "jump -1h" or "sleep 6h", and is answered by a line "moved" on standard error once
// every loop that was woken waits again. FLITCH_TEST_WALL is the time it starts with.
func mainAt() {
	wall, err := time.Parse(time.RFC3339, os.Getenv("FLITCH_TEST_WALL"))
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(3)
	}
	m := &movedMachine{wall: wall}
	go m.listen()
	os.Exit(execute(os.Args[1:], terminal{
		out: os.Stdout, err: os.Stderr, now: time.Now, env: os.Getenv, client: &http.Client{}, machine: m,
	}))
}

// A movedMachine has the two clocks of a machine apart.
type movedMachine struct {
	mu     sync.Mutex
	wall   time.Time
	spent  time.Duration
	awake  time.Duration // spent without the time it slept: what timers go by
	timers []timer
	waits  int // timers that were ever set
}

type timer struct {
	at   time.Duration
	ring chan time.Time
}

func (m *movedMachine) Times() (time.Time, time.Duration) {
	m.mu.Lock()
	defer m.mu.Unlock()
	return m.wall, m.spent
}

func (m *movedMachine) After(d time.Duration) <-chan time.Time {
	m.mu.Lock()
	defer m.mu.Unlock()
	t := timer{m.awake + max(0, d), make(chan time.Time, 1)}
	m.timers = append(m.timers, t)
	m.waits++
	m.ringDue()
	return t.ring
}

// ringDue wakes whose time has come, and returns how many.
func (m *movedMachine) ringDue() (n int) {
	keep := m.timers[:0]
	for _, t := range m.timers {
		if t.at > m.awake {
			keep = append(keep, t)
			continue
		}
		t.ring <- m.wall
		n++
	}
	m.timers = keep
	return n
}

func (m *movedMachine) listen() {
	lines := bufio.NewScanner(os.Stdin)
	for lines.Scan() {
		verb, text, _ := strings.Cut(lines.Text(), " ")
		d, err := time.ParseDuration(text)
		if err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(3)
		}
		m.move(verb, d)
		fmt.Fprintln(os.Stderr, "moved")
	}
}

func (m *movedMachine) move(verb string, d time.Duration) {
	m.mu.Lock()
	m.wall = m.wall.Add(d)
	if verb != "jump" {
		m.spent += d
	}
	woken, before := 0, m.waits
	if verb == "pass" {
		m.awake += d
		woken = m.ringDue()
	}
	m.mu.Unlock()
	for range 20 { // a timer that was left for something else waits for nobody
		m.mu.Lock()
		again := m.waits - before
		m.mu.Unlock()
		if again >= woken {
			return
		}
		<-time.After(time.Millisecond)
	}
}
