package decode

import (
	"fmt"
	"strings"
	"testing"
)

func TestFind(t *testing.T) {
	for payload, want := range map[string]string{
		`3.9`:   `=3.9 number`,
		` 38 `:  `=38 number`,
		`null`:  `=null nothing`,
		`"4.5"`: `=4.5 number`,
		`{"temperature":3.9,"battery":78,"state":"ok","on":true}`:                         `/battery=78 number, /temperature=3.9 number`,
		`{"Time":"2031-05-02T21:14:00Z","PROBE-1":{"Temperature":61.2},"AIR":{"T":null}}`: `/AIR/T=null nothing, /PROBE-1/Temperature=61.2 number, /Time=2031-05-02T21:14:00Z time rfc3339`,
		`{"data":{"time":1760982283,"temperature":21.5}}`:                                 `/data/temperature=21.5 number, /data/time=1760982283 time unix`,
		`{"ts":1760982283000,"a/b":1,"c~d":2}`:                                            `/a~1b=1 number, /c~0d=2 number, /ts=1760982283000 time unix-ms`,
		`[142,null,231]`:                                                                  `/0=142 number, /1=null nothing, /2=231 number`,
		`38.9 F`:                                                                          `=38.9 F number unit behind`,
		`{"t":"38,9 °F","w":"2,315","s":"61 %"}`:                                          `/t=38,9 °F number unit behind decimal ,, /w=2,315 number decimal ,`,
		`{"probes":[{"ch":2,"t":142},{"ch":1,"t":null}]}`:                                 `/probes/[ch=2]/ch=2 number, /probes/[ch=2]/t=142 number, /probes/[ch=1]/ch=1 number, /probes/[ch=1]/t=null nothing`,
		`[{"id":1,"name":"a/b","t":3},{"id":1,"name":"c","t":4}]`:                         `/[name=a~1b]/id=1 number, /[name=a~1b]/t=3 number, /[name=c]/id=1 number, /[name=c]/t=4 number`,
		`[{"id":1},{"id":1}]`:                                                             `/0/id=1 number, /1/id=1 number`,
		`{"AIR":{"Temperature":39},"TempUnit":"F"}`:                                       `/AIR/Temperature=39 number beside /TempUnit`,
		`{"probe":"C","t":39}`:                                                            `/t=39 number`,
		`{"readings":[{"ts":1796000000,"v":3.1},{"ts":1796000060,"v":3.2}]}`:              `/readings/0/ts=1796000000 time unix of /readings, /readings/0/v=3.1 number of /readings`,
		`{"readings":[{"ts":1796000000,"v":3.1},{"v":3.2}]}`:                              `/readings/0/ts=1796000000 time unix, /readings/0/v=3.1 number, /readings/1/v=3.2 number`,
		`{"p":[{"ch":1,"ts":1796000000,"v":3.1},{"ch":2,"ts":1796000000,"v":3.2}]}`:       `/p/[ch=1]/ch=1 number, /p/[ch=1]/ts=1796000000 time unix, /p/[ch=1]/v=3.1 number, /p/[ch=2]/ch=2 number, /p/[ch=2]/ts=1796000000 time unix, /p/[ch=2]/v=3.2 number`,
		`{}`:   ``,
		`true`: ``,
	} {
		found, more, err := Find([]byte(payload))
		if err != nil || more != 0 {
			t.Errorf("%s: %d more, %v", payload, more, err)
		}
		if got := listed(found); got != want {
			t.Errorf("%s:\n got %s\nwant %s", payload, got, want)
		}
	}
}

func listed(found []Found) string {
	var out []string
	for _, f := range found {
		line := fmt.Sprintf("%s=%s %s", f.Pointer, f.Text, f.Kind)
		if f.Format != "" {
			line += " " + string(f.Format)
		}
		if f.UnitAt != "" {
			line += " unit " + f.UnitAt
		}
		if f.Decimal != "" {
			line += " decimal " + f.Decimal
		}
		if f.UnitBeside != "" {
			line += " beside " + f.UnitBeside
		}
		if f.Each != "" {
			line += " of " + f.Each
		}
		out = append(out, line)
	}
	return strings.Join(out, ", ")
}

// What is found can be read at the place that is named.
func TestFoundNumbersCanBeRead(t *testing.T) {
	payload := []byte(`{"a":{"b/c":[1,{"~":-2.5}]},"t":"2031-05-02T21:14:00+02:00","x":"7"}`)
	found, _, err := Find(payload)
	if err != nil || len(found) != 4 {
		t.Fatalf("%d found, %v", len(found), err)
	}
	for _, f := range found {
		if f.Kind != FoundNumber {
			continue
		}
		field, err := NewField(Spec{Value: f.Pointer, Time: "/t", TimeFormat: "rfc3339"})
		if err != nil {
			t.Fatal(err)
		}
		doc, _ := Open(payload)
		if s, err := doc.Read(&field); err != nil || s.Value != f.Number || s.Device.IsZero() {
			t.Errorf("%s: %+v, %v", f.Pointer, s, err)
		}
	}
}

func TestFindIsBounded(t *testing.T) {
	found, more, err := Find([]byte("[" + strings.Repeat("1,", 999) + "1]"))
	if len(found) != MaxFound || more != 1000-MaxFound || err != nil {
		t.Errorf("%d found, %d more, %v", len(found), more, err)
	}
	for _, bad := range []string{"", "nan", "unavailable", `{"a":`, "\xff", strings.Repeat("[", 100), strings.Repeat("1", MaxPayload+1)} {
		if found, _, err := Find([]byte(bad)); err == nil {
			t.Errorf("%.20q: found %v", bad, found)
		}
	}
}

// FuzzFind: no payload makes Find panic, and every number it lists can be read where
// it says, as the same number.
func FuzzFind(f *testing.F) {
	for _, seed := range []string{"3.9", `{"a":[1,null,{"b":"2031-05-02T21:14:00Z"}],"t":1760982283}`, `{"~":{"/":"1e3"}}`, "null", "[[[[", "nan", "38,9 F", `{"a":"38.9 °C","b":"1,5"}`, `[{"id":"a]b=c","v":1},{"id":"~/","v":2}]`, `[{"ID":true,"v":1},{"ID":"true","v":2}]`} {
		f.Add([]byte(seed))
	}
	f.Fuzz(func(t *testing.T, payload []byte) {
		found, _, err := Find(payload)
		if err != nil || len(found) > MaxFound {
			if len(found) > 0 {
				t.Fatalf("%d found, %v", len(found), err)
			}
			return
		}
		doc, err := Open(payload)
		if err != nil {
			t.Fatal(err)
		}
		for _, one := range found {
			field, err := NewField(Spec{Value: one.Pointer, UnitAt: one.UnitAt, Decimal: one.Decimal})
			if err != nil {
				t.Fatalf("%q: %v", one.Pointer, err)
			}
			if s, err := doc.Read(&field); one.Kind == FoundNumber && (err != nil || s.Sent != one.Number) {
				t.Fatalf("%q: %+v, %v", one.Pointer, s, err)
			}
		}
	})
}
