package ingest_test

import (
	"fmt"
	"strings"
	"sync"
	"testing"

	"flitch/ingest"
	"flitch/ingest/decode"
	"flitch/process"
)

// What a sensor tells of itself comes with its readings. Where it is missing, null or no
// number, nothing is said and nothing rejected.
func TestWhatASensorTellsOfItself(t *testing.T) {
	var mu sync.Mutex
	var heard []string
	s, c := newShelf(t), &counts{}
	maps := []ingest.Mapping{{Topic: "alder/slow", Probe: probe("slow", process.Product), Spec: decode.Spec{Value: "/temperature"},
		Vitals: []ingest.VitalAt{{Kind: process.VitalBattery, Pointer: "/battery"}, {Kind: process.VitalSignal, Pointer: "/link"}}}}
	in := start(t, s, maps, ingest.Options{Observe: c, Vital: func(v ingest.Vital) {
		mu.Lock()
		defer mu.Unlock()
		heard = append(heard, fmt.Sprintf("%s %s %g", v.Probe, v.Kind, v.Value))
	}})
	for _, payload := range []string{
		`{"temperature":3.9,"humidity":61,"battery":78,"link":92}`,
		`{"temperature":3.8,"battery":"2.71","link":null}`,
		`{"temperature":3.7}`,
		`{"temperature":3.6,"battery":"low"}`,
		`{"temperature":null,"battery":77}`,
	} {
		in.submit(t, "alder/slow", payload, nil)
	}
	retained := ingest.Message{Topic: "alder/slow", Payload: []byte(`{"temperature":3.5,"battery":3}`), Retained: true}
	if err := in.Submit(t.Context(), retained); err != nil {
		t.Fatal(err)
	}
	if err := in.Stop(); err != nil {
		t.Fatal(err)
	}
	if got, want := strings.Join(heard, ", "), "slow battery 78, slow signal 92, slow battery 2.71, slow battery 77"; got != want {
		t.Errorf("heard %s, want %s", got, want)
	}
	if c.stored != 4 || fmt.Sprint(c.rejected) != "map[no value:1 retained:1]" {
		t.Errorf("%d stored, rejected %v", c.stored, c.rejected)
	}
}

func TestAVitalNeedsAPointer(t *testing.T) {
	for _, v := range []ingest.VitalAt{{Kind: process.VitalBattery}, {Pointer: "/b"}, {Kind: process.VitalBattery, Pointer: "b"}} {
		m := ingest.Mapping{Topic: "alder/slow", Probe: probe("slow", process.Product), Vitals: []ingest.VitalAt{v}}
		if _, err := ingest.New(newShelf(t), wall{}, []ingest.Mapping{m}, ingest.Options{}); err == nil {
			t.Errorf("%+v is taken", v)
		}
	}
}
