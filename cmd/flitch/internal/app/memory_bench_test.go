package app

import (
	"fmt"
	"io"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"flitch/cmd/flitch/internal/flitchtest"
	"flitch/ingest/mqtt/mqtttest"
	"flitch/store"
)

// A day of twelve probes that publish every five seconds.
const dayOfReadings = 12 * 24 * 3600 / 5

// BenchmarkMemory is the resident memory of the real daemon after it has stored
// and evaluated a day of readings from twelve probes. The limit is what a small
// board can spare: 40 MiB. More than half of it are pages of the program's file, which
// a kernel that is short of memory takes back and reads again; own is the rest.
func BenchmarkMemory(b *testing.B) {
	const limit = 40.0
	for b.Loop() {
		now, own, peak := memoryRound(b)
		fmt.Printf("bench memory_after_a_day %.1f MiB %.0f %.2f\n", now, limit, now/limit)
		fmt.Printf("bench memory_own_after_a_day %.1f MiB %.0f %.2f\n", own, limit, own/limit)
		fmt.Printf("bench memory_peak %.1f MiB %.0f %.2f\n", peak, limit, peak/limit)
	}
}

func memoryRound(b *testing.B) (now, own, peak float64) {
	b.Helper()
	folder := b.TempDir()
	binary, err := flitchtest.Build(folder)
	if err != nil {
		b.Fatal(err)
	}
	if err := store.Create(filepath.Join(folder, "flitch.db")); err != nil {
		b.Fatal(err)
	}
	page, broker := "127.0.0.1:18431", "127.0.0.1:18432"
	if err := os.WriteFile(filepath.Join(folder, "flitch.toml"), []byte(twelveProbes(page, broker)), 0o600); err != nil {
		b.Fatal(err)
	}
	daemon := exec.Command(binary, "run", "--config", filepath.Join(folder, "flitch.toml"))
	daemon.Stderr = os.Stderr
	if err := daemon.Start(); err != nil {
		b.Fatal(err)
	}
	defer daemon.Wait()
	defer daemon.Process.Signal(syscall.SIGTERM)
	flood(b, broker)
	evaluated(b, page)
	return status(b, daemon.Process.Pid, "VmRSS:"), status(b, daemon.Process.Pid, "RssAnon:"), status(b, daemon.Process.Pid, "VmHWM:")
}

// twelveProbes is a configuration for the topics of a load.
func twelveProbes(page, broker string) string {
	var text strings.Builder
	fmt.Fprintf(&text, "[site]\nname = \"bench\"\nzone = \"UTC\"\nunits = \"C\"\ndatabase = \"flitch.db\"\n[page]\nlisten = %q\n[broker]\nmode = \"embedded\"\nlisten = %q\nmax_rate = 1000000\n[[place]]\nname = \"alder\"\nkind = \"fridge\"\n", page, broker)
	for i, topic := range mqtttest.LoadTopics() {
		fmt.Fprintf(&text, "[[probe]]\nname = \"p-%d\"\nplace = \"alder\"\nmeasures = \"core\"\ntopic = %q\nvalue = \"/t\"\ntime = \"/at\"\ntime_format = \"unix-ms\"\nunit = \"C\"\ninterval = \"5s\"\n", i, topic)
	}
	return text.String()
}

func flood(b *testing.B, broker string) {
	b.Helper()
	var raw *mqtttest.Raw
	var err error
	for deadline := time.Now().Add(20 * time.Second); ; {
		if raw, err = mqtttest.Dial(broker, "bench"); err == nil {
			break
		}
		if time.Now().After(deadline) {
			b.Fatal(err)
		}
		<-time.After(10 * time.Millisecond)
	}
	defer raw.Close()
	if err := raw.Flood(aDay(time.Now().Add(-24*time.Hour+time.Minute)), 1000); err != nil {
		b.Fatal(err)
	}
}

// aDay is a day of readings from each of the twelve, five seconds apart in device
// time, in the shape and on the topics of a load.
func aDay(first time.Time) [][]byte {
	topics := mqtttest.LoadTopics()
	packets := make([][]byte, dayOfReadings)
	for i := range packets {
		at := first.Add(time.Duration(i/len(topics)) * 5 * time.Second)
		payload := fmt.Appendf(nil, `{"t":%d.%d,"at":%d}`, 40+i%20, i%10, at.UnixMilli())
		packets[i] = mqtttest.Packet(topics[i%len(topics)], payload, 1, mqtttest.PacketID(i))
	}
	return packets
}

// evaluated waits until the engine has seen the whole day.
func evaluated(b *testing.B, page string) {
	b.Helper()
	for deadline := time.Now().Add(2 * time.Minute); ; {
		response, err := http.Get("http://" + page + "/metrics")
		if err == nil {
			text, _ := io.ReadAll(response.Body)
			response.Body.Close()
			_, count, _ := strings.Cut(string(text), "\nflitch_inputs_evaluated_total ")
			var n float64 // of readings, and of what else the house puts in between
			if _, err := fmt.Sscan(count, &n); err == nil && n >= dayOfReadings {
				return
			}
		}
		if time.Now().After(deadline) {
			b.Fatal("the day was not evaluated in two minutes")
		}
		<-time.After(50 * time.Millisecond)
	}
}

// status reads one line of /proc/PID/status, in MiB.
func status(b *testing.B, pid int, line string) float64 {
	b.Helper()
	text, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", pid))
	if err != nil {
		b.Fatal(err)
	}
	_, rest, _ := strings.Cut(string(text), line)
	var kib float64
	if _, err := fmt.Sscan(rest, &kib); err != nil {
		b.Fatalf("%s in /proc: %v", line, err)
	}
	return kib / 1024
}
