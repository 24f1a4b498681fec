package house

import (
	"slices"
	"strings"
	"testing"
)

// An importRule says who may import what.
type importRule struct {
	why    string
	from   func(source) bool
	breaks func(path string) bool
}

func product(folders ...string) func(source) bool {
	return func(s source) bool {
		return slices.ContainsFunc(folders, func(f string) bool { return s.folder == f })
	}
}

func outside(folders ...string) func(source) bool {
	return func(s source) bool {
		return !slices.ContainsFunc(folders, func(f string) bool { return s.in(f) })
	}
}

func is(paths ...string) func(string) bool {
	return func(path string) bool { return slices.Contains(paths, path) }
}

func below(prefixes ...string) func(string) bool {
	return func(path string) bool {
		return slices.ContainsFunc(prefixes, func(p string) bool { return path == p || strings.HasPrefix(path, p+"/") })
	}
}

// pure are the rooms that only compute.
var pure = []string{"process", "process/cure", "process/lethality", "process/growth", "process/heat", "process/hold", "process/rules", "process/plans", "process/scenario", "process/series", "process/action", "process/evidence",
	"alerts", "ingest/decode", "ingest/decode/homie", "ingest/decode/sparkplug", "ingest/signal", "ingest/sensor"}

var importRules = []importRule{
	{why: "the pure core takes time and data as arguments, so that live, demo, replay and tests run one function",
		from: product(pure...), breaks: below("os", "net", "database", "log", "io/ioutil", "math/rand", "syscall", "sync/atomic", "context")},
	{why: "process and alerts are strangers: the engine turns findings into signals",
		from: product("process"), breaks: below("flitch/alerts")},
	{why: "process and alerts are strangers: the engine turns findings into signals",
		from: product("alerts"), breaks: below("flitch/process")},
	{why: "a number package is only numbers: a stranger can check it alone",
		from:   product("process/cure", "process/lethality", "process/growth", "process/heat", "process/hold", "process/rules", "process/series", "ingest/signal", "ingest/sensor", "store/block"),
		breaks: below("flitch")},
	{why: "loops declare the few methods they need; only the composition root knows the database",
		from: outside("cmd", "store"), breaks: is("flitch/store")},
	{why: "configuration is a leaf: it knows the words of the trade, the numbers of sensors, and nothing of who uses them",
		from: product("cmd/flitch/internal/config"),
		breaks: func(p string) bool {
			return strings.HasPrefix(p, "flitch/") && p != "flitch/process" && p != "flitch/alerts" && p != "flitch/ingest/sensor"
		}},
	{why: "a calculator asks the models and nobody else, so that command, page and JSON say the same",
		from: product("cmd/flitch/internal/reckon", "cmd/flitch/internal/quantity"),
		breaks: func(p string) bool {
			return strings.HasPrefix(p, "flitch/cmd/") && p != "flitch/cmd/flitch/internal/plain" && p != "flitch/cmd/flitch/internal/quantity" && p != "flitch/cmd/flitch/internal/dosing" ||
				below("os", "net", "database", "context", "flitch/store", "flitch/alerts", "flitch/ingest")(p)
		}},
	{why: "a drawing takes plain data and asks nobody, so that page and record show the same picture",
		from: product("process/chart"),
		breaks: func(p string) bool {
			return strings.HasPrefix(p, "flitch/") && p != "flitch/process" && p != "flitch/process/series" || below("os", "net", "database", "context")(p)
		}},
	{why: "a ready text is filled in from a batch and knows no alarm machine, so that page, command and test show the same",
		from: product("process/action"), breaks: func(p string) bool { return strings.HasPrefix(p, "flitch/") && p != "flitch/process" }},
	{why: "one importer: what comes from a phone is decoded behind one check of its size",
		from: outside("cmd/flitch/internal/photo"), breaks: func(p string) bool { return below("golang.org/x/image")(p) && p != "golang.org/x/image/font/sfnt" }},
	{why: "one importer: the drawing library's lettering and digits are put right in one room",
		from: outside("process/chart"), breaks: below("gonum.org/v1/plot")},
	{why: "one importer: the PDF library knows no scripts and its fonts are chosen letter by letter, in one room",
		from: outside("process/record/pdf"), breaks: below("codeberg.org/go-pdf/fpdf", "codeberg.org/go-fonts")},
	{why: "one importer: the spreadsheet library writes in the order of maps, which one room puts right",
		from: outside("process/record/workbook"), breaks: below("github.com/xuri/excelize")},
	{why: "one importer: the MQTT client has traps that one room knows",
		from: outside("ingest/mqtt"), breaks: below("github.com/eclipse/paho.mqtt.golang")},
	{why: "one importer: the broker library must never hold a reading",
		from: outside("ingest/broker"), breaks: below("github.com/mochi-mqtt/server")},
	{why: "one importer: the wire format of Sparkplug B is read by field numbers, in one room",
		from: outside("ingest/decode/sparkplug"), breaks: below("google.golang.org/protobuf")},
	{why: "one importer: the driver's default loses rows at a power cut",
		from: outside("store"), breaks: below("github.com/mattn/go-sqlite3")},
	{why: "one importer: what PostgreSQL refuses to hold, and what a lost answer means, one room knows",
		from: outside("store/fleet"), breaks: below("github.com/jackc")},
	{why: "the copy of many sites is beside the record and never in its way: the store does not know it",
		from: product("store"), breaks: below("flitch/store/fleet")},
	{why: "one importer: the notification library has traps that one room knows",
		from: outside("alerts/push"), breaks: below("github.com/nikoksr/notify")},
	{why: "one importer: the web push library judges no answer and knows no house",
		from: outside("alerts/push"), breaks: below("github.com/SherClockHolmes/webpush-go")},
	{why: "one importer: the code on a label is a drawing, and the rest need not know by whom",
		from: outside("cmd/flitch/internal/qr"), breaks: below("github.com/yeqown")},
	{why: "what to weigh is worked out by numbers alone: the page and the command line ask the same",
		from: product("cmd/flitch/internal/dosing", "cmd/flitch/internal/quantity"), breaks: below("os", "net", "database", "context", "flitch/store", "flitch/cmd/flitch/internal/web")},
	{why: "one importer: adapters count, the interface exposes",
		from: outside("cmd/flitch/internal/api"), breaks: below("github.com/prometheus")},
	{why: "product code that imports testing helpers ships them",
		from: func(source) bool { return true },
		breaks: below("testing", "net/http/httptest", "flitch/testdata", "flitch/ingest/mqtt/mqtttest", "flitch/alerts/push/pushtest", "flitch/store/fleet/fleettest", "flitch/cmd/flitch/internal/killpoint", "flitch/cmd/flitch/internal/flitchtest", "flitch/cmd/flitch/internal/linktest", "flitch/cmd/flitch/internal/api/apitest", "go.uber.org/goleak", "pgregory.net/rapid",
			"github.com/rogpeppe/go-internal", "github.com/getkin", "github.com/chromedp", "github.com/emersion/go-smtp", "github.com/stretchr", "golang.org/x/tools", "github.com/makiuchi-d/gozxing",
			"github.com/prometheus/client_golang/prometheus/testutil")},
}

// violations lists every import that breaks a rule.
func violations(all []source) []string {
	var out []string
	for _, s := range all {
		for _, rule := range importRules {
			if s.test || !rule.from(s) {
				continue
			}
			for _, path := range s.imports() {
				if rule.breaks(path) && path != "math/rand/v2" {
					out = append(out, s.path+" imports "+path+": "+rule.why)
				}
			}
		}
	}
	return out
}

func TestEveryRoomKnowsOnlyWhomItMay(t *testing.T) {
	for _, v := range violations(sources(t)) {
		t.Error(v)
	}
}

func TestTheImportRulesCatch(t *testing.T) {
	for _, c := range []struct{ path, imports string }{
		{"process/x.go", "os"}, {"process/x.go", "flitch/alerts"}, {"alerts/x.go", "flitch/process"},
		{"process/cure/x.go", "flitch/process"}, {"process/engine/x.go", "flitch/store"},
		{"cmd/flitch/internal/config/x.go", "flitch/store"}, {"ingest/x.go", "github.com/eclipse/paho.mqtt.golang"},
		{"ingest/x.go", "github.com/mochi-mqtt/server/v2"}, {"ingest/decode/x.go", "google.golang.org/protobuf/encoding/protowire"}, {"cmd/flitch/internal/app/x.go", "github.com/mattn/go-sqlite3"},
		{"store/x.go", "github.com/jackc/pgx/v5"}, {"cmd/flitch/internal/app/x.go", "github.com/jackc/pgx/v5/pgconn"}, {"store/x.go", "flitch/store/fleet"}, {"alerts/outbox/x.go", "github.com/nikoksr/notify"}, {"alerts/x.go", "github.com/SherClockHolmes/webpush-go"}, {"ingest/x.go", "github.com/prometheus/client_golang/prometheus"},
		{"cmd/flitch/internal/reckon/x.go", "flitch/cmd/flitch/internal/web"}, {"process/series/x.go", "flitch/process"}, {"process/action/x.go", "flitch/alerts"}, {"cmd/flitch/internal/web/x.go", "golang.org/x/image/webp"}, {"process/chart/x.go", "flitch/process/record"}, {"process/chart/x.go", "os"}, {"process/record/x.go", "gonum.org/v1/plot"},
		{"process/record/x.go", "codeberg.org/go-pdf/fpdf"}, {"process/chart/x.go", "codeberg.org/go-fonts/dejavu/dejavusans"}, {"cmd/flitch/x.go", "github.com/xuri/excelize/v2"},
		{"store/x.go", "testing"}, {"store/x.go", "flitch/testdata/published"}, {"ingest/sim/x.go", "flitch/ingest/mqtt/mqtttest"}, {"cmd/flitch/internal/demo/x.go", "flitch/cmd/flitch/internal/flitchtest"}, {"cmd/flitch/x.go", "flitch/cmd/flitch/internal/linktest"},
		{"cmd/flitch/internal/web/x.go", "net/http/httptest"}, {"cmd/flitch/internal/web/x.go", "github.com/yeqown/go-qrcode/v2"}, {"cmd/flitch/internal/dosing/x.go", "os"}, {"cmd/flitch/internal/qr/x.go", "github.com/makiuchi-d/gozxing"}, {"process/x.go", "net/http"}, {"alerts/x.go", "log/slog"}, {"process/x.go", "math/rand"},
	} {
		bad := parse(t, c.path, "package x\n\nimport _ \""+c.imports+"\"\n")
		if len(violations([]source{bad})) == 0 {
			t.Errorf("%s importing %s was not caught", c.path, c.imports)
		}
	}
}
