// Package fleettest runs Debian's PostgreSQL for tests, ends it as a power cut would, and cuts
// connections to it where it hurts.
package fleettest

import (
	"bytes"
	"context"
	"fmt"
	"math/rand/v2"
	"net"
	"os"
	"os/exec"
	"os/user"
	"path/filepath"
	"strconv"
	"strings"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
)

// Password is that of every user made here.
const Password = "alder@smoke/1"

// A Server is one PostgreSQL with a folder of its own.
type Server struct {
	t       testing.TB
	dir     string // of its files
	bin     string // of its programs
	port    int
	more    []string // settings
	attr    *syscall.SysProcAttr
	cmd     *exec.Cmd
	ended   chan struct{}
	said    *bytes.Buffer
	numbers atomic.Int64
}

// Programs is the folder of PostgreSQL's own programs; the test fails without them.
func Programs(t testing.TB) string {
	t.Helper()
	if path, err := exec.LookPath("initdb"); err == nil {
		return filepath.Dir(path)
	}
	found, err := filepath.Glob("/usr/lib/postgresql/*/bin/initdb")
	if err != nil || len(found) == 0 {
		t.Fatal("PostgreSQL is missing: apt-get install postgresql")
	}
	return filepath.Dir(found[len(found)-1])
}

// Start makes a server with an empty cluster; it is stopped and removed at the end of the test.
func Start(t testing.TB, settings ...string) *Server {
	t.Helper()
	dir, err := os.MkdirTemp("", "flitch-postgres-")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { os.RemoveAll(dir) })
	return StartIn(t, dir, settings...)
}

// StartIn is Start in a folder of the caller's.
func StartIn(t testing.TB, dir string, settings ...string) *Server {
	t.Helper()
	s := start(t, dir, settings)
	t.Cleanup(s.Kill)
	return s
}

// shared is the server of all tests of one package that do nothing special to it.
var shared *Server

// Shared is a server that is started once; End ends it. Tests that use it do not run at the
// same time.
func Shared(t testing.TB) *Server {
	t.Helper()
	if shared == nil {
		dir, err := os.MkdirTemp("", "flitch-postgres-")
		if err != nil {
			t.Fatal(err)
		}
		shared = start(t, dir, nil)
	}
	shared.t = t
	return shared
}

// End ends the shared server, for TestMain.
func End() {
	if shared != nil {
		shared.Kill()
		os.RemoveAll(shared.dir)
	}
}

func start(t testing.TB, dir string, settings []string) *Server {
	t.Helper()
	s := &Server{t: t, dir: dir, bin: Programs(t), more: settings, attr: &syscall.SysProcAttr{}}
	if os.Getuid() == 0 { // it refuses to run as root
		s.attr.Credential = unprivileged(t)
		if err := os.Chown(dir, int(s.attr.Credential.Uid), int(s.attr.Credential.Gid)); err != nil {
			t.Fatal(err)
		}
	}
	secret := filepath.Join(dir, "password")
	if err := os.WriteFile(secret, []byte(Password), 0o644); err != nil {
		t.Fatal(err)
	}
	initdb := exec.Command(filepath.Join(s.bin, "initdb"), "-D", filepath.Join(dir, "data"), "-U", "owner", "--pwfile", secret, "-A", "scram-sha-256", "-E", "UTF8", "--locale=C", "--no-sync")
	initdb.SysProcAttr, initdb.Dir = s.attr, dir
	if out, err := initdb.CombinedOutput(); err != nil {
		t.Fatalf("initdb: %v\n%s", err, out)
	}
	s.port = freePort(t)
	s.Run()
	return s
}

func unprivileged(t testing.TB) *syscall.Credential {
	t.Helper()
	for _, name := range []string{"postgres", "nobody"} {
		u, err := user.Lookup(name)
		if err != nil {
			continue
		}
		uid, err := strconv.ParseUint(u.Uid, 10, 32)
		gid, err2 := strconv.ParseUint(u.Gid, 10, 32)
		if err == nil && err2 == nil {
			return &syscall.Credential{Uid: uint32(uid), Gid: uint32(gid)}
		}
	}
	t.Fatal("no user postgres or nobody, and PostgreSQL refuses to run as root")
	return nil
}

// Secret copies a file so that the server of the folder, and nobody else, reads it, and returns
// where.
func Secret(t testing.TB, dir, from string) string {
	t.Helper()
	data, err := os.ReadFile(from)
	to := filepath.Join(dir, filepath.Base(from))
	if err == nil {
		err = os.WriteFile(to, data, 0o600)
	}
	if err == nil && os.Getuid() == 0 {
		who := unprivileged(t)
		err = os.Chown(to, int(who.Uid), int(who.Gid))
	}
	if err != nil {
		t.Fatal(err)
	}
	return to
}

// freePort is below those that the system gives to who asks for any: another test would get it.
func freePort(t testing.TB) int {
	t.Helper()
	for range 100 {
		port := 10_000 + rand.IntN(20_000)
		if l, err := net.Listen("tcp", fmt.Sprintf("127.0.0.1:%d", port)); err == nil {
			l.Close()
			return port
		}
	}
	t.Fatal("no port is free")
	return 0
}

// Run starts the server again on the same files and waits until it answers.
func (s *Server) Run() {
	s.t.Helper()
	s.RunSoon()
	deadline, cancel := context.WithTimeout(context.Background(), time.Minute)
	defer cancel()
	for {
		conn, err := pgx.Connect(deadline, s.URL("owner", "postgres"))
		if err == nil {
			conn.Close(deadline)
			return
		}
		if deadline.Err() != nil {
			s.t.Fatalf("PostgreSQL does not answer: %v\n%s", err, s.said.String())
		}
		time.Sleep(20 * time.Millisecond)
	}
}

// RunSoon starts the server and does not wait.
func (s *Server) RunSoon() {
	s.t.Helper()
	args := []string{"-D", filepath.Join(s.dir, "data"), "-p", strconv.Itoa(s.port), "-k", s.dir, "-c", "listen_addresses=127.0.0.1", "-c", "shared_buffers=64MB", "-c", "max_connections=40"}
	for _, one := range s.more {
		args = append(args, "-c", one)
	}
	s.said, s.ended = new(bytes.Buffer), make(chan struct{})
	s.cmd = exec.Command(filepath.Join(s.bin, "postgres"), args...)
	s.cmd.SysProcAttr, s.cmd.Dir, s.cmd.Stderr = s.attr, s.dir, s.said
	if err := s.cmd.Start(); err != nil {
		s.t.Fatal(err)
	}
	go func(cmd *exec.Cmd, ended chan struct{}) { cmd.Wait(); close(ended) }(s.cmd, s.ended)
}

// Kill is SIGKILL to the server and each of its processes.
func (s *Server) Kill() {
	if s.cmd == nil {
		return
	}
	children := s.children()
	s.cmd.Process.Kill()
	for _, pid := range children {
		syscall.Kill(pid, syscall.SIGKILL)
	}
	<-s.ended
	for _, pid := range children { // until the kernel has let go of them
		for syscall.Kill(pid, 0) == nil && parent(pid) != 0 {
			time.Sleep(time.Millisecond)
		}
	}
	s.cmd = nil
}

// children are the processes of the server, which begin sessions of their own.
func (s *Server) children() (out []int) {
	found, _ := filepath.Glob("/proc/[0-9]*/stat")
	for _, path := range found {
		pid, err := strconv.Atoi(filepath.Base(filepath.Dir(path)))
		if err == nil && parent(pid) == s.cmd.Process.Pid {
			out = append(out, pid)
		}
	}
	return out
}

// parent is the parent of a process; 0: it is gone, or only its name is left.
func parent(pid int) int {
	text, err := os.ReadFile(fmt.Sprintf("/proc/%d/stat", pid))
	_, rest, ok := strings.Cut(string(text), ") ")
	fields := strings.Fields(rest)
	if err != nil || !ok || len(fields) < 2 || fields[0] == "Z" {
		return 0
	}
	ppid, _ := strconv.Atoi(fields[1])
	return ppid
}

// URL is the address of a database for a user made here.
func (s *Server) URL(who, database string) string { return s.urlAt(who, database, s.Addr()) }

// URLThrough is URL by way of a Cutter.
func (s *Server) URLThrough(c *Cutter, who, database string) string {
	return s.urlAt(who, database, c.Addr())
}

func (s *Server) urlAt(who, database, at string) string {
	return fmt.Sprintf("postgres://%s:alder%%40smoke%%2F1@%s/%s?sslmode=disable", who, at, database)
}

// Addr is host:port.
func (s *Server) Addr() string { return net.JoinHostPort("127.0.0.1", strconv.Itoa(s.port)) }

// Database makes an empty database and returns its name.
func (s *Server) Database() string {
	s.t.Helper()
	name := fmt.Sprintf("fleet%d", s.numbers.Add(1))
	s.Do("postgres", "CREATE DATABASE "+name)
	return name
}

// User makes a user and returns its name.
func (s *Server) User(name string) string {
	s.t.Helper()
	name = fmt.Sprintf("%s%d", name, s.numbers.Add(1))
	s.Do("postgres", "CREATE USER "+name+" PASSWORD '"+Password+"'")
	return name
}

// Do runs statements as the owner.
func (s *Server) Do(database, sql string) {
	s.t.Helper()
	if err := s.Try("owner", database, sql); err != nil {
		s.t.Fatalf("%s: %v", sql, err)
	}
}

// Try runs statements as somebody.
func (s *Server) Try(who, database, sql string) error {
	ctx, cancel := context.WithTimeout(context.Background(), time.Minute)
	defer cancel()
	conn, err := pgx.Connect(ctx, s.URL(who, database))
	if err != nil {
		return err
	}
	defer conn.Close(ctx)
	_, err = conn.Exec(ctx, sql)
	return err
}
